//! A boundary between two media, put on top of what lies beneath it.

use nalgebra::{DMatrix, DVector};

/// The reflectance of a boundary for each direction; see [`super::directions::Directions::boundary`].
#[derive(Debug)]
pub(super) struct Boundary {
    reflect: DVector<f64>,
    matched: bool,
}

impl Boundary {
    pub(super) fn new(reflect: DVector<f64>) -> Self {
        let matched = reflect.iter().all(|r| *r <= 0.0);
        Self { reflect, matched }
    }

    /// Reflectance along the normal.
    pub(super) fn normal(&self) -> f64 {
        self.reflect.iter().next().copied().unwrap_or(0.0)
    }

    /// What the boundary lets pass, for the first `size` directions.
    pub(super) fn passes(&self, size: usize) -> DVector<f64> {
        self.reflect.rows(0, size).map(|r| 1.0 - r)
    }

    /// Reflection of the bare boundary for `size` directions; none where it reflects nothing.
    pub(super) fn bare(&self, size: usize) -> Option<DMatrix<f64>> {
        (!self.matched).then(|| DMatrix::from_diagonal(&self.reflect.rows(0, size).into_owned()))
    }

    /// Reflection for light from above (`size` directions) of the boundary with `beneath`, the reflection of all that
    /// lies under it. None only if the numerics fail.
    pub(super) fn over(&self, beneath: &DMatrix<f64>, size: usize) -> Option<DMatrix<f64>> {
        if self.matched {
            return Some(beneath.clone());
        }
        let shared = size.min(beneath.nrows());
        let trains = self.trains(beneath).lu().solve(beneath)?;
        let pass = self.passes(shared);
        let mut through = trains.view((0, 0), (shared, shared)).into_owned();
        for (mut column, by) in through.column_iter_mut().zip(pass.iter()) {
            column.component_mul_assign(&pass);
            column *= *by;
        }
        let mut seen = DMatrix::from_diagonal(&self.reflect.rows(0, size).into_owned());
        let mut inner = seen.view_mut((0, 0), (shared, shared));
        inner += through;
        Some(seen)
    }

    /// What goes down just beneath the boundary when `down` arrives from above. None only if the numerics fail.
    pub(super) fn enter(&self, down: &DVector<f64>, beneath: &DMatrix<f64>) -> Option<DVector<f64>> {
        let size = beneath.nrows();
        let shared = size.min(down.len());
        let mut entered = DVector::zeros(size);
        entered.rows_mut(0, shared).copy_from(&self.passes(shared).component_mul(&down.rows(0, shared)));
        if self.matched {
            return Some(entered);
        }
        // (1 - r B) x = entered is solved through the transpose of the matrix that `over` uses.
        self.trains(beneath).transpose().lu().solve(&entered)
    }

    /// `1 - B r`: light to and fro between what lies beneath and the boundary.
    fn trains(&self, beneath: &DMatrix<f64>) -> DMatrix<f64> {
        let mut m = -beneath;
        for (mut column, r) in m.column_iter_mut().zip(self.reflect.iter()) {
            column *= *r;
        }
        m.set_diagonal(&m.diagonal().add_scalar(1.0));
        m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two boundaries with nothing between them, direction by direction: r1 + (1 - r1)^2 r2 / (1 - r1 r2).
    #[test]
    fn two_faces_sum_without_interference() {
        let boundary = Boundary::new(DVector::from_vec(vec![0.04, 0.2, 1.0]));
        let seen = boundary.over(&DMatrix::from_diagonal(&DVector::from_vec(vec![0.01, 0.5])), 3).unwrap();
        for (i, (r1, r2)) in [(0.04, 0.01), (0.2, 0.5)].into_iter().enumerate() {
            let both: f64 = r1 + (1.0 - r1) * (1.0 - r1) * r2 / (1.0 - r1 * r2);
            assert!((seen[(i, i)] - both).abs() < 1e-15);
        }
        assert!((seen[(2, 2)] - 1.0).abs() < 1e-15, "a direction that does not exist beneath is turned back");
        let down = boundary.enter(&DVector::from_vec(vec![1.0, 0.0, 7.0]), &DMatrix::from_element(2, 2, 0.0)).unwrap();
        assert!((down[0] - 0.96).abs() < 1e-15 && down[1].abs() < 1e-15 && down.len() == 2);
    }

    #[test]
    fn a_matched_boundary_is_not_there() {
        let none = Boundary::new(DVector::zeros(2));
        let beneath = DMatrix::from_row_slice(2, 2, &[0.1, 0.2, 0.2, 0.3]);
        assert!(none.bare(2).is_none());
        assert!((none.over(&beneath, 2).unwrap() - &beneath).amax() <= 0.0);
    }
}
