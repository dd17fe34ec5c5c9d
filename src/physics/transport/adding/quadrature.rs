//! The directions that light is followed in.
//!
//! Snell's law keeps `p = n sin(theta)` from layer to layer, so one set of values of `p` serves a whole stack: a node
//! is a ray's `p`, and a layer holds the nodes below its own index; for the others its boundary is a perfect mirror.
//! What a node carries is weighed in `p dp`, which is the same in every layer (radiance over n squared is kept too).
//!
//! The range is cut at every index of the stack. Within each piece the nodes are Gauss nodes of the cosine in the
//! medium whose index ends the piece: there the reflectance and the weights are smooth up to the grazing ray. The
//! piece that holds the normal uses Radau nodes, which hold the normal itself: the beam comes in along it.

use crate::physics::Stack;
use std::f64::consts::{FRAC_PI_2, PI};

/// Two indices closer than this share one cut.
const SAME_INDEX: f64 = 1e-6;
/// More pieces than this bring time and no digits.
const MAX_PIECES: usize = 12;
/// Nodes that a piece gets beyond its share of the quarter circle, where there is more than one.
const MORE_PER_PIECE: usize = 4;
/// A direction this close to grazing (cosine squared) is left out of a layer.
const GRAZING: f64 = 1e-10;

/// One direction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    /// Index of the medium that its piece of the range ends at.
    index: f64,
    /// Cosine against the normal in that medium.
    cosine: f64,
    /// Weight in `p dp`; all of them sum to half the square of the largest index.
    pub(super) weight: f64,
}

impl Node {
    /// Cosine against the normal in a medium; none where the direction does not exist in it.
    pub(super) fn cosine_in(&self, n: f64) -> Option<f64> {
        let ratio = self.index / n;
        // 1 - (p / n)^2 without losing the digits of grazing directions.
        let squared = (1.0 - ratio) * (1.0 + ratio) + (ratio * self.cosine).powi(2);
        (squared > GRAZING).then(|| squared.sqrt().min(1.0))
    }
}

/// The nodes of a stack from the normal to the grazing ray of its densest layer. `order` is how many there are to a
/// quarter circle.
pub(super) fn nodes(stack: &Stack, order: usize) -> Vec<Node> {
    let cuts = cuts(stack);
    let densest = cuts.last().copied().unwrap_or(1.0);
    let mut nodes = Vec::new();
    let mut inner = 0.0;
    for (piece, &index) in cuts.iter().enumerate() {
        let widest = ((index - inner) * (index + inner)).sqrt() / index;
        let count = if cuts.len() == 1 {
            order
        } else {
            // The mean of the angle that the piece spans in the densest medium and in its own.
            let dense = (index / densest).min(1.0).asin() - (inner / densest).asin();
            let share = f64::midpoint(dense, widest.min(1.0).asin()) / FRAC_PI_2;
            (share * order as f64).ceil() as usize + MORE_PER_PIECE
        };
        let rule = if piece == 0 { radau(count) } else { gauss(count) };
        nodes.extend(rule.into_iter().map(|(x, w)| {
            let cosine = widest * x;
            Node { index, cosine, weight: index * index * cosine * widest * w }
        }));
        inner = index;
    }
    nodes
}

/// Where the range is cut, rising; the last is the densest layer's index.
fn cuts(stack: &Stack) -> Vec<f64> {
    let densest = stack.layers().iter().map(|l| l.n).fold(1.0, f64::max);
    let outside = [stack.n_above(), stack.n_below()].into_iter().filter(|n| *n < densest);
    let mut cuts: Vec<f64> = stack.layers().iter().map(|l| l.n).chain(outside).collect();
    cuts.sort_by(f64::total_cmp);
    // The upper of two that are the same stays, so that every layer's rays are covered.
    cuts.reverse();
    cuts.dedup_by(|lower, upper| *upper - *lower < SAME_INDEX);
    cuts.reverse();
    while cuts.len() > MAX_PIECES {
        let gaps = cuts.iter().zip(cuts.iter().skip(1)).map(|(a, b)| b - a);
        let Some((narrowest, _)) = gaps.enumerate().min_by(|a, b| a.1.total_cmp(&b.1)) else { break };
        cuts.remove(narrowest);
    }
    cuts
}

/// Legendre polynomials of degree `m` and `m - 1` at `x`, `m` at least 1.
fn legendre(m: usize, x: f64) -> (f64, f64) {
    let (mut p, mut before) = (x, 1.0);
    for l in 1..m {
        let l = l as f64;
        (p, before) = (((2.0 * l + 1.0) * x * p - l * before) / (l + 1.0), p);
    }
    (p, before)
}

/// Newton's steps towards a zero of `f`, which gives value and slope.
fn zero(mut x: f64, f: impl Fn(f64) -> (f64, f64)) -> f64 {
    for _ in 0..20 {
        let (value, slope) = f(x);
        let step = value / slope;
        x -= step;
        if step.abs() < 1e-16 {
            break;
        }
    }
    x
}

/// Gauss nodes and weights on 0 to 1, from the largest node down.
fn gauss(m: usize) -> Vec<(f64, f64)> {
    let degree = m as f64;
    let slope = |x: f64, p: f64, before: f64| degree * (x * p - before) / (x * x - 1.0);
    (0..m)
        .map(|k| {
            let guess = (PI * (k as f64 + 0.75) / (degree + 0.5)).cos();
            let x = zero(guess, |x| {
                let (p, before) = legendre(m, x);
                (p, slope(x, p, before))
            });
            let (p, before) = legendre(m, x);
            let weight = 2.0 / ((1.0 - x * x) * slope(x, p, before).powi(2));
            (f64::midpoint(x, 1.0), weight / 2.0)
        })
        .collect()
}

/// Radau nodes and weights on 0 to 1 with 1 itself, from it down.
fn radau(m: usize) -> Vec<(f64, f64)> {
    let degree = m as f64;
    // The inner nodes are the zeros of P(m-1) - P(m) below 1; mirrored, of P(m-1) + P(m) above -1.
    let inner = (1..m).map(|k| {
        let guess = -(2.0 * PI * k as f64 / (2.0 * degree - 1.0)).cos();
        let x = zero(guess, |x| {
            let (p, before) = legendre(m, x);
            let slope = degree * (x * p - before) / (x * x - 1.0);
            let slope_before = degree * (p - x * before) / (x * x - 1.0);
            (p + before, slope + slope_before)
        });
        let (_, before) = legendre(m, x);
        (f64::midpoint(1.0, -x), (1.0 - x) / (degree * before).powi(2) / 2.0)
    });
    std::iter::once((1.0, 1.0 / (degree * degree))).chain(inner).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Layer;

    fn integral(rule: &[(f64, f64)], power: i32) -> f64 {
        rule.iter().map(|(x, w)| w * x.powi(power)).sum()
    }

    #[test]
    fn the_rules_are_exact_for_every_power_they_must_be() {
        for m in [2, 3, 5, 16, 33, 64] {
            for power in 0..2 * m {
                let exact = 1.0 / f64::from(power + 1);
                let off = (integral(&gauss(m as usize), power) - exact).abs();
                assert!(off < 2e-14, "gauss {m}, power {power}: {off}");
                let off = (integral(&radau(m as usize), power) - exact).abs();
                assert!(off < 2e-14 || power == 2 * m - 1, "radau {m}, power {power}: {off}");
            }
        }
        assert_eq!(radau(1), vec![(1.0, 1.0)]);
    }

    fn stack(indices: &[f64]) -> Stack {
        let layer = |&n| Layer { n, mua_per_cm: 1.0, mus_per_cm: 10.0, g: 0.5, thickness_cm: 0.1 };
        Stack::new(1.0, 1.0, indices.iter().map(layer).collect()).unwrap()
    }

    #[test]
    fn nodes_go_from_the_normal_outwards_and_a_layer_holds_the_first_of_them() {
        let nodes = nodes(&stack(&[1.42, 1.37, 1.44]), 24);
        assert!((nodes[0].cosine_in(1.42).unwrap() - 1.0).abs() < 1e-15);
        let half: f64 = nodes.iter().map(|n| n.weight).sum();
        assert!((half - 1.44f64.powi(2) / 2.0).abs() < 1e-13);
        for n in [1.0, 1.37, 1.42, 1.44] {
            let cosines: Vec<Option<f64>> = nodes.iter().map(|node| node.cosine_in(n)).collect();
            let held = cosines.iter().flatten().count();
            assert!(cosines.iter().take(held).all(Option::is_some));
            let falling: Vec<f64> = cosines.into_iter().flatten().collect();
            assert!(falling.windows(2).all(|w| w[0] > w[1]));
            // What a layer holds is all the light that it can: the weights sum to half the square of its index.
            let sum: f64 = nodes.iter().take(held).map(|n| n.weight).sum();
            assert!((sum - n * n / 2.0).abs() < 1e-13, "{n}: {sum}");
        }
    }

    #[test]
    fn near_and_many_indices_share_cuts() {
        assert_eq!(cuts(&stack(&[1.4, 1.4 + 1e-9, 1.4])), vec![1.0, 1.4 + 1e-9]);
        let many: Vec<f64> = (0..60).map(|i| 1.3 + 0.003 * f64::from(i)).collect();
        let cuts = cuts(&stack(&many));
        assert_eq!(cuts.len(), MAX_PIECES);
        assert!((cuts[MAX_PIECES - 1] - many[59]).abs() < 1e-15);
    }
}
