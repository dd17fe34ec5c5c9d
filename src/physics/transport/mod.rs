//! Light in layered skin: how much comes back, how much goes through, where it is absorbed and how strong it is at a
//! depth.
//!
//! [`adding`] gives the answer for a beam much wider than the light spreads, to six digits within milliseconds.
//! [`fresnel`] is what happens at a boundary between two refractive indices.

pub mod adding;
pub mod fresnel;
