//! A stack made ready for the walk: cut at the planes where light is counted, with single-precision constants.

use super::sampling::Phase;
use crate::physics::transport::{TransportError, fresnel};
use crate::physics::{Layer, Stack};

/// Depths closer than this, in cm, are one plane.
const SAME_PLANE_CM: f64 = 1e-7;

/// A layer, or a piece of one between planes. Depths within it count from its top, so that thin pieces deep down keep
/// their digits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    /// The layer it is of.
    pub(super) layer: usize,
    /// Refractive index.
    pub(super) n: f32,
    /// Mean free path in cm; infinite where nothing happens.
    pub(super) mean_free_path_cm: f32,
    /// Absorbed share at each interaction.
    pub(super) absorbed: f32,
    /// Phase function.
    pub(super) phase: Phase,
    /// Thickness in cm, may be infinite.
    pub(super) thickness_cm: f32,
    /// The plane at its top, where light is counted.
    pub(super) plane_at_top: Option<usize>,
}

/// A stack made ready.
#[derive(Debug, Clone)]
pub(super) struct Prepared {
    pub(super) pieces: Vec<Piece>,
    /// The first piece that is not clear: where photons start. None where all are clear.
    pub(super) start: Option<usize>,
    /// The plane at the bottom of the last piece.
    pub(super) plane_at_bottom: Option<usize>,
    pub(super) n_above: f32,
    pub(super) n_below: f32,
    /// Reflected before the first layer that is not clear, with all echoes between the clear ones.
    pub(super) specular: f64,
    /// The plane of each depth asked for, in the order of the request.
    pub(super) planes: Vec<usize>,
}

impl Prepared {
    /// Cuts a stack at the depths asked for.
    pub(super) fn new(stack: &Stack, depths_cm: &[f64]) -> Result<Self, TransportError> {
        let mut cuts: Vec<f64> = depths_cm.to_vec();
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| *a - *b <= SAME_PLANE_CM);
        let (mut pieces, mut top_cm) = (Vec::new(), 0.0);
        let mut next = cuts.iter().copied().enumerate().peekable();
        for (i, layer) in stack.layers().iter().enumerate() {
            let end_cm = top_cm + layer.thickness_cm;
            let mut from_cm = top_cm;
            let mut plane = next.next_if(|(_, z)| *z <= top_cm + SAME_PLANE_CM).map(|(p, _)| p);
            while let Some((below, z)) = next.next_if(|(_, z)| *z < end_cm - SAME_PLANE_CM) {
                pieces.push(piece(layer, i, z - from_cm, plane));
                (from_cm, plane) = (z, Some(below));
            }
            pieces.push(piece(layer, i, end_cm - from_cm, plane));
            top_cm = end_cm;
        }
        let start = pieces.iter().position(|p: &Piece| p.mean_free_path_cm.is_finite());
        let plane_at_bottom = next.next_if(|(_, z)| *z <= top_cm + SAME_PLANE_CM).map(|(p, _)| p);
        let outside = next.next().map(|(_, z)| z);
        // Photons start below the clear layers on top, so the light within those is not known.
        let above = start.and_then(|s| pieces.iter().take(s).find_map(|p| p.plane_at_top)).and_then(|p| cuts.get(p));
        if let Some(depth_cm) = outside.or(above.copied()) {
            return Err(TransportError::Depth { depth_cm });
        }
        let plane_of = |z: &f64| cuts.partition_point(|c| *c <= z + SAME_PLANE_CM).saturating_sub(1);
        Ok(Self {
            pieces,
            start,
            plane_at_bottom,
            n_above: stack.n_above() as f32,
            n_below: stack.n_below() as f32,
            specular: fresnel::specular_of_clear_top(stack),
            planes: depths_cm.iter().map(plane_of).collect(),
        })
    }

    /// How many planes there are.
    pub(super) fn plane_count(&self) -> usize {
        self.planes.iter().max().map_or(0, |last| last + 1)
    }
}

fn piece(l: &Layer, layer: usize, thickness_cm: f64, plane_at_top: Option<usize>) -> Piece {
    let attenuation = l.mut_per_cm();
    Piece {
        layer,
        n: l.n as f32,
        mean_free_path_cm: if attenuation > 0.0 { (1.0 / attenuation) as f32 } else { f32::INFINITY },
        absorbed: if attenuation > 0.0 { (l.mua_per_cm / attenuation) as f32 } else { 0.0 },
        phase: Phase::new(l.g),
        thickness_cm: thickness_cm as f32,
        plane_at_top,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stack(thicknesses: &[f64]) -> Stack {
        let layer = |t| Layer { n: 1.4, mua_per_cm: 0.5, mus_per_cm: 134.0, g: 0.9, thickness_cm: t };
        Stack::new(1.0, 1.0, thicknesses.iter().map(|t| layer(*t)).collect()).unwrap()
    }

    #[test]
    fn layers_are_cut_at_the_depths_and_keep_their_thickness() {
        let p = Prepared::new(&stack(&[0.006, 0.3]), &[0.1, 0.0, 0.006, 0.05, 0.1, 0.306]).unwrap();
        let pieces: Vec<_> = p.pieces.iter().map(|p| (p.layer, p.plane_at_top, p.thickness_cm)).collect();
        let near = |a: f32, b: f32| (a - b).abs() < 1e-7;
        assert!(
            matches!(pieces[..], [(0, Some(0), a), (1, Some(1), b), (1, Some(2), c), (1, Some(3), d)]
            if near(a, 0.006) && near(b, 0.044) && near(c, 0.05) && near(d, 0.206)),
            "{pieces:?}"
        );
        assert_eq!((p.plane_at_bottom, p.planes.as_slice()), (Some(4), [3, 0, 1, 2, 3, 4].as_slice()));
        assert_eq!(p.plane_count(), 5);
    }

    #[test]
    fn without_depths_layers_stay_whole() {
        let p = Prepared::new(&stack(&[0.1, f64::INFINITY]), &[]).unwrap();
        assert_eq!((p.pieces.len(), p.plane_count(), p.plane_at_bottom), (2, 0, None));
        assert!(p.pieces.iter().all(|p| p.plane_at_top.is_none()));
    }

    #[test]
    fn depths_outside_or_in_clear_layers_on_top_are_refused() {
        assert!(Prepared::new(&stack(&[0.1]), &[0.05, 0.1001]).is_err());
        let glass = Layer { n: 1.5, mua_per_cm: 0.0, mus_per_cm: 0.0, g: 0.0, thickness_cm: 0.1 };
        let mut layers = vec![glass];
        layers.extend_from_slice(stack(&[0.1]).layers());
        let covered = Stack::new(1.0, 1.0, layers).unwrap();
        assert!(Prepared::new(&covered, &[0.05]).is_err() && Prepared::new(&covered, &[0.1, 0.15]).is_ok());
    }
}
