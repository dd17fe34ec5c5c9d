//! The nodes as one medium sees them.

use super::layer::scatters;
use super::quadrature::Node;
use crate::physics::transport::fresnel;
use crate::physics::{Layer, Stack};
use nalgebra::DVector;

/// The directions that exist in a medium of one refractive index: the first of the stack's nodes.
///
/// What a direction carries is counted as `s = q I / n^2`, with `I` its radiance and `q = sqrt(2 W)`: then the sum of
/// `q s` is the flux, every operator is symmetric (reciprocity), and a boundary passes `s` on unchanged but for its
/// reflectance.
#[derive(Debug, Clone)]
pub(super) struct Directions {
    /// Refractive index.
    pub(super) n: f64,
    /// Cosines against the normal, falling from 1.
    pub(super) cosines: DVector<f64>,
    /// The flux that a unit of `s` carries.
    pub(super) flux: DVector<f64>,
}

impl Directions {
    /// The directions of a medium of index `n` that light can take there, which are those that also exist at index
    /// `reach`.
    pub(super) fn of(nodes: &[Node], n: f64, reach: f64) -> Self {
        let held: Vec<(f64, f64)> = nodes
            .iter()
            .take_while(|node| node.cosine_in(reach).is_some())
            .map_while(|node| Some((node.cosine_in(n)?, (2.0 * node.weight).sqrt())))
            .collect();
        Self {
            n,
            cosines: DVector::from_iterator(held.len(), held.iter().map(|h| h.0)),
            flux: DVector::from_iterator(held.len(), held.iter().map(|h| h.1)),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.cosines.len()
    }

    /// The weights for an integral over the cosine in this medium, square roots: `sqrt(W / (n^2 cosine))`.
    pub(super) fn root_weights(&self) -> DVector<f64> {
        self.flux.zip_map(&self.cosines, |q, cosine| q / self.n / (2.0 * cosine).sqrt())
    }

    /// What a unit of `s`, up or down, adds to the fluence.
    pub(super) fn fluence(&self) -> DVector<f64> {
        self.flux.component_div(&self.cosines)
    }

    /// Reflectance of the boundary with another medium, one for each direction that either of them holds: 1 for those
    /// that only one holds. The same from both sides.
    pub(super) fn boundary(&self, other: &Self) -> DVector<f64> {
        DVector::from_fn(self.len().max(other.len()), |i, _| match (self.cosines.get(i), other.cosines.get(i)) {
            (Some(a), Some(b)) => fresnel::between(self.n, *a, other.n, *b),
            _ => 1.0,
        })
    }
}

/// For each layer the index up to which light can reach it, for [`Directions::of`].
///
/// A layer that does not scatter holds only rays that come into it from a neighbour: those between two totally
/// reflecting faces are never lit, and would make a mirror cabinet without an exit.
pub(super) fn lit_up_to(stack: &Stack) -> Vec<f64> {
    let one_way = |layers: &mut dyn Iterator<Item = &Layer>, outside: f64| {
        let mut reach = outside;
        let mut reaches = Vec::new();
        for layer in layers {
            reaches.push(if scatters(layer) { f64::INFINITY } else { reach });
            reach = if scatters(layer) { layer.n } else { reach.min(layer.n) };
        }
        reaches
    };
    let from_above = one_way(&mut stack.layers().iter(), stack.n_above());
    let mut from_below = one_way(&mut stack.layers().iter().rev(), stack.n_below());
    from_below.reverse();
    from_above.into_iter().zip(from_below).map(|(a, b)| a.max(b)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clear_layers_hold_what_their_neighbours_send() {
        let layer = |n, mus_per_cm| Layer { n, mua_per_cm: 0.0, mus_per_cm, g: 0.0, thickness_cm: 0.1 };
        let (skin, clear) = (layer(1.4, 10.0), |n| layer(n, 0.0));
        let of = |layers: Vec<Layer>| lit_up_to(&Stack::new(1.0, 1.2, layers).unwrap());
        assert_eq!(of(vec![clear(1.5), skin, clear(1.5)]), vec![1.4, f64::INFINITY, 1.4]);
        assert_eq!(of(vec![clear(1.5)]), vec![1.2]);
        assert_eq!(of(vec![skin, clear(1.5), clear(1.3), clear(1.5)]), vec![f64::INFINITY, 1.4, 1.4, 1.3]);
    }
}
