//! A stack made ready for the walk: the planes where light is counted, and single-precision constants.

use super::sampling::Phase;
use crate::physics::transport::{TransportError, fresnel};
use crate::physics::{Layer, Stack};

/// Depths closer than this, in cm, are one plane.
const SAME_PLANE_CM: f64 = 1e-7;

/// A layer. Depths within it count from its top, so that thin layers deep down keep their digits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slab {
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
    /// Its first and its last fence.
    pub(super) fences: (usize, usize),
}

/// Where light is counted inside a layer. Each layer has a first and a last fence that nothing passes, so that a photon
/// is always between two: one infinitely far above, and one whose depth is no number, which not even an infinite depth
/// reaches.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fence {
    /// Depth below the layer's top in cm.
    pub(super) depth_cm: f32,
    /// Number of the plane; none has the first and the last fence.
    pub(super) plane: usize,
}

/// A stack made ready.
#[derive(Debug, Clone)]
pub(super) struct Prepared {
    pub(super) slabs: Vec<Slab>,
    /// The fences of all layers, from the top down.
    pub(super) fences: Vec<Fence>,
    /// The first layer that is not clear: where photons start. None where all are clear.
    pub(super) start: Option<usize>,
    /// The plane at the bottom of the last layer.
    pub(super) plane_at_bottom: Option<usize>,
    pub(super) n_above: f32,
    pub(super) n_below: f32,
    /// Reflected before the first layer that is not clear, with all echoes between the clear ones.
    pub(super) specular: f64,
    /// The plane of each depth asked for, in the order of the request.
    pub(super) planes: Vec<usize>,
}

impl Prepared {
    /// Places the depths asked for in the layers of a stack.
    pub(super) fn new(stack: &Stack, depths_cm: &[f64]) -> Result<Self, TransportError> {
        let mut cuts: Vec<f64> = depths_cm.to_vec();
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| *a - *b <= SAME_PLANE_CM);
        let (mut slabs, mut fences, mut top_cm) = (Vec::new(), Vec::new(), 0.0);
        let mut next = cuts.iter().copied().enumerate().peekable();
        for layer in stack.layers() {
            let end_cm = top_cm + layer.thickness_cm;
            let plane_at_top = next.next_if(|(_, z)| *z <= top_cm + SAME_PLANE_CM).map(|(p, _)| p);
            let first = fences.len();
            fences.push(Fence { depth_cm: f32::NEG_INFINITY, plane: 0 });
            while let Some((plane, z)) = next.next_if(|(_, z)| *z < end_cm - SAME_PLANE_CM) {
                fences.push(Fence { depth_cm: (z - top_cm) as f32, plane });
            }
            slabs.push(slab(layer, plane_at_top, (first, fences.len())));
            fences.push(Fence { depth_cm: f32::NAN, plane: 0 });
            top_cm = end_cm;
        }
        let start = slabs.iter().position(|s: &Slab| s.mean_free_path_cm.is_finite());
        let plane_at_bottom = next.next_if(|(_, z)| *z <= top_cm + SAME_PLANE_CM).map(|(p, _)| p);
        let outside = next.next().map(|(_, z)| z);
        // Photons start below the clear layers on top, so the light within those is not known.
        let clear_cm: f64 = stack.layers().iter().take(start.unwrap_or(0)).map(|l| l.thickness_cm).sum();
        let above = cuts.first().filter(|z| start.is_some() && **z < clear_cm - SAME_PLANE_CM);
        if let Some(depth_cm) = outside.or(above.copied()) {
            return Err(TransportError::Depth { depth_cm });
        }
        let plane_of = |z: &f64| cuts.partition_point(|c| *c <= z + SAME_PLANE_CM).saturating_sub(1);
        Ok(Self {
            slabs,
            fences,
            start,
            plane_at_bottom,
            n_above: stack.n_above() as f32,
            n_below: stack.n_below() as f32,
            specular: fresnel::specular_of_clear_top(stack),
            planes: depths_cm.iter().map(plane_of).collect(),
        })
    }

    /// Whether there are planes inside layers, not only between them.
    pub(super) fn counts_inside(&self) -> bool {
        self.fences.len() > 2 * self.slabs.len()
    }

    /// How many planes there are.
    pub(super) fn plane_count(&self) -> usize {
        self.planes.iter().max().map_or(0, |last| last + 1)
    }
}

fn slab(l: &Layer, plane_at_top: Option<usize>, fences: (usize, usize)) -> Slab {
    let attenuation = l.mut_per_cm();
    Slab {
        n: l.n as f32,
        mean_free_path_cm: if attenuation > 0.0 { (1.0 / attenuation) as f32 } else { f32::INFINITY },
        absorbed: if attenuation > 0.0 { (l.mua_per_cm / attenuation) as f32 } else { 0.0 },
        phase: Phase::new(l.g),
        thickness_cm: l.thickness_cm as f32,
        plane_at_top,
        fences,
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
    fn depths_stand_in_their_layers_and_at_the_boundaries() {
        let p = Prepared::new(&stack(&[0.006, 0.3]), &[0.1, 0.0, 0.006, 0.05, 0.1, 0.306]).unwrap();
        let near =
            |fence: Fence, depth_cm: f32, plane| (fence.depth_cm - depth_cm).abs() < 1e-7 && fence.plane == plane;
        assert_eq!(
            p.slabs.iter().map(|s| (s.plane_at_top, s.fences)).collect::<Vec<_>>(),
            [(Some(0), (0, 1)), (Some(1), (2, 5))]
        );
        assert!(near(p.fences[3], 0.044, 2) && near(p.fences[4], 0.094, 3), "{:?}", p.fences);
        for (slab, thickness) in p.slabs.iter().zip([0.006, 0.3]) {
            let (first, last) = slab.fences;
            assert!(p.fences[first].depth_cm < -1e30 && p.fences[last].depth_cm.is_nan());
            assert!((slab.thickness_cm - thickness).abs() < 1e-7);
        }
        assert_eq!((p.plane_at_bottom, p.planes.as_slice()), (Some(4), [3, 0, 1, 2, 3, 4].as_slice()));
        assert_eq!(p.plane_count(), 5);
    }

    #[test]
    fn without_depths_nothing_is_counted() {
        let p = Prepared::new(&stack(&[0.1, f64::INFINITY]), &[]).unwrap();
        assert_eq!((p.slabs.len(), p.fences.len(), p.plane_count(), p.plane_at_bottom), (2, 4, 0, None));
        assert!(p.slabs.iter().all(|s| s.plane_at_top.is_none()));
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
