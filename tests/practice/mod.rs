//! Practice: the scenarios, the skin that answers, the model operator.

mod cases;
mod course;
mod lab;
mod manners;
mod repeat;
mod skin;
