//! A stack made ready for the walk: single-precision constants a layer, and where the bins lie.

use super::grid::Grid;
use super::sampling::Phase;
use crate::physics::Stack;
use crate::physics::transport::fresnel;

/// Constants of a layer. Depths within a layer count from its top, so that thin layers under thick ones keep their
/// digits.
#[derive(Debug, Clone, Copy)]
pub(super) struct PreparedLayer {
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
    /// First depth bin.
    pub(super) first_bin: f32,
    /// Middle of the last depth bin, in bins from the first: what lies deeper is counted there.
    pub(super) bins_end: f32,
    /// Depth bins per cm.
    pub(super) bins_per_cm: f32,
}

/// A stack made ready.
#[derive(Debug, Clone)]
pub(super) struct Prepared {
    pub(super) layers: Vec<PreparedLayer>,
    /// The first layer that is not clear: where photons start. None where all are clear.
    pub(super) start: Option<usize>,
    pub(super) n_above: f32,
    pub(super) n_below: f32,
    /// Reflected before the first layer that is not clear, with all echoes between the clear ones.
    pub(super) specular: f64,
    /// Radial bins per square root of a centimetre.
    pub(super) bins_per_root_cm: f32,
}

impl Prepared {
    pub(super) fn new(stack: &Stack, grid: Option<&Grid>) -> Self {
        let layers = stack.layers().iter().enumerate().map(|(i, l)| {
            let attenuation = l.mut_per_cm();
            let bins = grid.and_then(|g| g.layer_bins(i)).unwrap_or_default();
            PreparedLayer {
                n: l.n as f32,
                mean_free_path_cm: if attenuation > 0.0 { (1.0 / attenuation) as f32 } else { f32::INFINITY },
                absorbed: if attenuation > 0.0 { (l.mua_per_cm / attenuation) as f32 } else { 0.0 },
                phase: Phase::new(l.g),
                thickness_cm: l.thickness_cm as f32,
                first_bin: bins.first as f32,
                bins_end: bins.count as f32 - 0.5,
                bins_per_cm: bins.per_cm as f32,
            }
        });
        Self {
            layers: layers.collect(),
            start: stack.layers().iter().position(|l| !l.is_clear()),
            n_above: stack.n_above() as f32,
            n_below: stack.n_below() as f32,
            specular: fresnel::specular_of_clear_top(stack),
            bins_per_root_cm: Grid::BINS_PER_ROOT_CM as f32,
        }
    }
}
