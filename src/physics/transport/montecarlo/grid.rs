//! Bins in radius and depth for the light of a pencil beam.
//!
//! Depth bins never straddle layers, so one mean free path holds for all that a bin counts. Radial bins are even in
//! the root of the radius.

use crate::physics::{Layer, Stack};

/// Depth bins of one layer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LayerBins {
    /// Index of the first one.
    pub(super) first: usize,
    /// How many there are, with the one for all that lies deeper than is resolved.
    pub(super) count: usize,
    /// How many are resolved.
    pub(super) resolved: usize,
    /// Bins per cm.
    pub(super) per_cm: f64,
    /// Depth of the layer's top below the surface, in cm.
    pub(super) top_cm: f64,
    /// Mean free path of the layer in cm.
    pub(super) mean_free_path_cm: f64,
}

impl Default for LayerBins {
    fn default() -> Self {
        Self { first: 0, count: 1, resolved: 0, per_cm: 0.0, top_cm: 0.0, mean_free_path_cm: 0.0 }
    }
}

/// The bins of a stack.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Grid {
    layers: Vec<LayerBins>,
}

impl Grid {
    /// Radial bins; the last one counts all that lies further out.
    pub(super) const RINGS: usize = 128;
    /// Bins per square root of a centimetre: the rings reach to 4 cm, more than twice the radius of any spot.
    pub(super) const BINS_PER_ROOT_CM: f64 = Self::RINGS as f64 / 2.0;
    /// More depth bins would not fit a processor's own memory, and slow every step.
    const DEPTH_BINS_MAX: f64 = 320.0;

    /// Bins that resolve depths down to `deepest_cm`.
    pub(super) fn new(stack: &Stack, deepest_cm: f64) -> Self {
        let mut coarsen = 1.0;
        loop {
            let grid = Self::with(stack, deepest_cm, coarsen);
            // A hundred layers take four bins each whatever the coarseness.
            if grid.depth_bins() as f64 <= Self::DEPTH_BINS_MAX || coarsen > 1e3 {
                return grid;
            }
            coarsen *= 1.25;
        }
    }

    fn with(stack: &Stack, deepest_cm: f64, coarsen: f64) -> Self {
        let (mut first, mut top_cm) = (0, 0.0);
        let layers = stack.layers().iter().map(|l| {
            let wanted = deepest_cm - top_cm;
            let cover = l.thickness_cm.min(wanted * 1.05);
            let whole = cover >= l.thickness_cm;
            let bins = if l.is_clear() || wanted < 0.0 || cover <= 0.0 {
                LayerBins { first, top_cm, ..LayerBins::default() }
            } else {
                let resolved = (cover / (bin_height_cm(l) * coarsen)).ceil().clamp(4.0, 1e4);
                LayerBins {
                    first,
                    count: resolved as usize + usize::from(!whole),
                    resolved: resolved as usize,
                    per_cm: resolved / cover,
                    top_cm,
                    mean_free_path_cm: 1.0 / l.mut_per_cm(),
                }
            };
            first += bins.count;
            top_cm += l.thickness_cm;
            bins
        });
        Self { layers: layers.collect() }
    }

    /// Bins of a layer, counted from 0.
    pub(super) fn layer_bins(&self, layer: usize) -> Option<LayerBins> {
        self.layers.get(layer).copied()
    }

    fn depth_bins(&self) -> usize {
        self.layers.last().map_or(0, |l| l.first + l.count)
    }

    /// How many cells there are: depth bins times rings.
    pub(super) fn cells(&self) -> usize {
        self.depth_bins() * Self::RINGS
    }

    /// Inner radius of a ring in cm.
    pub(super) fn ring_start_cm(ring: usize) -> f64 {
        (ring as f64 / Self::BINS_PER_ROOT_CM).powi(2)
    }

    /// Depth bins and factors whose sum is the fluence at a depth, by the parabola that has the mean of three
    /// neighbouring bins of one layer. The factors turn weight into fluence for each photon. None in a clear layer,
    /// where nothing interacts, or outside the stack.
    ///
    /// At an interface the layer below counts; at the very bottom the layer above.
    pub(super) fn at_depth(&self, depth_cm: f64) -> Option<Vec<(usize, f64)>> {
        let below_or_at = |l: &&LayerBins| l.top_cm <= depth_cm * (1.0 + 1e-12) + 1e-12;
        let layer = self.layers.iter().rfind(below_or_at)?;
        if layer.resolved == 0 {
            return None;
        }
        let place = (depth_cm - layer.top_cm) * layer.per_cm;
        let last = layer.resolved - 1;
        if place > layer.resolved as f64 * (1.0 + 1e-9) + 1e-9 {
            return None;
        }
        // The middle one of the three bins.
        let middle = (place.max(0.0) as usize).clamp(1.min(last), last.saturating_sub(1).max(1.min(last)));
        let s = place - (middle as f64 + 0.5);
        let to_fluence = layer.mean_free_path_cm * layer.per_cm;
        let term = |bin: usize, factor: f64| (layer.first + bin, factor * to_fluence);
        let bend = s * s - 1.0 / 12.0;
        Some(vec![term(middle - 1, 0.5 * (bend - s)), term(middle, 1.0 - bend), term(middle + 1, 0.5 * (bend + s))])
    }
}

/// A bin height that a parabola can follow: a share of the lengths over which fluence changes.
fn bin_height_cm(l: &Layer) -> f64 {
    let reduced = l.mua_per_cm + l.mus_per_cm * (1.0 - l.g);
    let penetration = 1.0 / (3.0 * l.mua_per_cm * reduced).sqrt();
    0.01f64.min(0.25 / reduced).min(penetration / 6.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stack(thicknesses: &[f64]) -> Stack {
        let layer = |t| Layer { n: 1.4, mua_per_cm: 0.5, mus_per_cm: 134.0, g: 0.9, thickness_cm: t };
        Stack::new(1.0, 1.0, thicknesses.iter().map(|t| layer(*t)).collect()).unwrap()
    }

    #[test]
    fn bins_of_neighbouring_layers_do_not_overlap_and_stay_few() {
        let grid = Grid::new(&stack(&[0.006, 0.02, 5.0, f64::INFINITY]), 0.3);
        let mut next = 0;
        for i in 0..4 {
            let bins = grid.layer_bins(i).unwrap();
            assert_eq!(bins.first, next);
            next += bins.count;
        }
        assert_eq!(grid.cells(), next * Grid::RINGS);
        assert!(grid.depth_bins() < 100);
        assert!(Grid::new(&stack(&[100.0]), 100.0).depth_bins() <= 320);
    }

    #[test]
    fn a_parabola_is_found_again_at_every_depth_of_its_layer() {
        let grid = Grid::new(&stack(&[0.006, 0.3]), 0.2);
        let bins = grid.layer_bins(1).unwrap();
        let f = |z: f64| 2.0 - 3.0 * z + 40.0 * z * z;
        let integral = |z: f64| 2.0 * z - 1.5 * z * z + 40.0 / 3.0 * z * z * z;
        for depth in [0.006, 0.0061, 0.01, 0.05, 0.1, 0.2] {
            let got: f64 = grid
                .at_depth(depth)
                .unwrap()
                .into_iter()
                .map(|(bin, factor)| {
                    let top = bins.top_cm + (bin - bins.first) as f64 / bins.per_cm;
                    let mean = (integral(top + 1.0 / bins.per_cm) - integral(top)) * bins.per_cm;
                    mean * factor / (bins.mean_free_path_cm * bins.per_cm)
                })
                .sum();
            assert!((got - f(depth)).abs() < 1e-9, "{depth}: {got} against {}", f(depth));
        }
        assert!(grid.at_depth(0.31).is_none() && grid.at_depth(-0.1).is_none());
    }
}
