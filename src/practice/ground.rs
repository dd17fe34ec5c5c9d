//! The skin of a zone in small cells: ink, warmth, bubbles and wounds place by place.

use super::model::{
    BLISTERS_K, BLISTERS_POWER, Drive, HEAT_LEAVES_S, HEAT_STAYS, HEAT_UNDER_BUBBLES, LIGHT_THROUGH_BLOOD,
    LIGHT_THROUGH_BUBBLES, PIGMENT_K, PIGMENT_POWER, chance,
};
use crate::coverage::{Outline, Point};
use crate::words::BeamProfile;

/// Cells of a zone, about: enough to tell spots apart, few enough to be quick.
const CELLS: f64 = 3000.0;

/// A small place.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cell {
    centre: Point,
    /// Ink left, of what there was before the first session.
    ink: f32,
    /// Warmth left at `heat_ms`, K.
    heat: f32,
    heat_ms: u64,
    /// Highest rise so far, K.
    peak: f32,
    white_until_ms: u64,
    /// Whether bubbles hid this place when a pulse came.
    hit_while_white: bool,
    blood: bool,
    separated: bool,
    darkened: bool,
    hits: u16,
}

/// What a pulse meets and brings, before chance is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Met {
    /// Mean over the ink under the spot of what whitening, blood and thinning leave of its drive.
    pub ink_share: f64,
    /// Highest rise of the epidermis under the spot, K.
    pub epidermis_k: f64,
    /// Share of the spot that lies in the zone.
    pub inside: f64,
    /// Share of the spot that was white.
    pub white: f64,
}

/// What a pulse leaves at its place, as chance had it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Left {
    /// Bubbles until then.
    pub white_until_ms: Option<u64>,
    /// Blood, or tissue thrown out.
    pub blood: bool,
    /// A separated epidermis.
    pub separated: bool,
    /// Ink or skin turned dark.
    pub darkened: bool,
}

/// What a pulse carries on its axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pulse {
    pub centre: Point,
    pub spot_mm: f64,
    pub profile: BeamProfile,
    pub rise_k: f64,
    pub ms: u64,
}

impl Pulse {
    /// Light at a distance from the axis over that on it.
    fn weight(&self, centre: Point) -> f64 {
        let r2 = centre.distance_squared(self.centre) / (self.spot_mm * self.spot_mm / 4.0);
        match self.profile {
            BeamProfile::Flat => 1.0,
            BeamProfile::Gaussian => (-2.0 * r2).exp(),
        }
    }
}

/// A zone's skin.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    cells: Vec<Cell>,
    /// Index of the cell at a place of the raster, row by row; none outside the zone.
    raster: Vec<Option<u32>>,
    columns: usize,
    low: Point,
    step_mm: f64,
}

impl Ground {
    pub fn new(outline: &Outline, ink_left: f64) -> Self {
        let bounds = outline.bounds();
        let step_mm = (outline.area_mm2() / CELLS).sqrt().max(0.1);
        let columns = (bounds.width_mm() / step_mm).ceil().max(1.0) as usize;
        let rows = (bounds.height_mm() / step_mm).ceil().max(1.0) as usize;
        let mut ground =
            Self { cells: Vec::new(), raster: vec![None; columns * rows], columns, low: bounds.low, step_mm };
        for (i, slot) in ground.raster.iter_mut().enumerate() {
            let (row, column) = (i / columns, i % columns);
            let centre = Point::new(
                bounds.low.x_mm + (column as f64 + 0.5) * step_mm,
                bounds.low.y_mm + (row as f64 + 0.5) * step_mm,
            );
            if outline.contains(centre) {
                *slot = u32::try_from(ground.cells.len()).ok();
                ground.cells.push(Cell {
                    centre,
                    ink: ink_left as f32,
                    heat: 0.0,
                    heat_ms: 0,
                    peak: 0.0,
                    white_until_ms: 0,
                    hit_while_white: false,
                    blood: false,
                    separated: false,
                    darkened: false,
                    hits: 0,
                });
            }
        }
        ground
    }

    /// The cells under a spot.
    fn under(&self, centre: Point, spot_mm: f64) -> Vec<usize> {
        let r = spot_mm / 2.0;
        let index = |v: f64, low: f64| ((v - low) / self.step_mm).floor();
        let rows = self.raster.len() / self.columns.max(1);
        let clip = |v: f64, n: usize| v.clamp(0.0, n.saturating_sub(1) as f64) as usize;
        let (x0, x1) = (index(centre.x_mm - r, self.low.x_mm), index(centre.x_mm + r, self.low.x_mm));
        let (y0, y1) = (index(centre.y_mm - r, self.low.y_mm), index(centre.y_mm + r, self.low.y_mm));
        if x1 < 0.0 || y1 < 0.0 || x0 >= self.columns as f64 || y0 >= rows as f64 {
            return Vec::new();
        }
        let mut found = Vec::new();
        for row in clip(y0, rows)..=clip(y1, rows) {
            for column in clip(x0, self.columns)..=clip(x1, self.columns) {
                let cell = self.raster.get(row * self.columns + column).copied().flatten();
                if let Some(i) = cell.and_then(|i| usize::try_from(i).ok())
                    && self.cells.get(i).is_some_and(|c| c.centre.distance_squared(centre) <= r * r)
                {
                    found.push(i);
                }
            }
        }
        found
    }

    /// Lets a pulse fall: warms and clears what lies under it, and tells what it met. `drive` is the pulse on its axis
    /// and on fresh skin.
    pub fn fall(&mut self, pulse: &Pulse, drive: &Drive) -> Met {
        let under = self.under(pulse.centre, pulse.spot_mm);
        let spot_mm2 = std::f64::consts::PI * pulse.spot_mm * pulse.spot_mm / 4.0;
        let inside = (under.len() as f64 * self.step_mm * self.step_mm / spot_mm2).min(1.0);
        let mut met = Met { ink_share: 0.0, epidermis_k: pulse.rise_k, inside, white: 0.0 };
        let n = under.len() as f64;
        for i in &under {
            let Some(cell) = self.cells.get_mut(*i) else { continue };
            let weight = pulse.weight(cell.centre);
            let white = cell.white_until_ms > pulse.ms;
            let blood = if cell.blood { LIGHT_THROUGH_BLOOD } else { 1.0 };
            let shade = if white { LIGHT_THROUGH_BUBBLES } else { 1.0 } * blood;
            let thin = 0.6 + 0.4 * f64::from(cell.ink);
            let left = f64::from(cell.heat)
                * (-(pulse.ms.saturating_sub(cell.heat_ms) as f64) / (HEAT_LEAVES_S * 1000.0)).exp();
            let under_bubbles = if white { HEAT_UNDER_BUBBLES } else { 1.0 };
            let rise = pulse.rise_k * weight * under_bubbles;
            let reached = left + rise;
            cell.heat = (left + HEAT_STAYS * rise) as f32;
            cell.heat_ms = pulse.ms;
            cell.peak = cell.peak.max(reached as f32);
            cell.hits = cell.hits.saturating_add(1);
            cell.hit_while_white |= white;
            let here = Drive { ink: drive.ink * weight * shade * thin, ..*drive };
            if !cell.darkened {
                cell.ink *= (1.0 - here.clears()) as f32;
            }
            met.ink_share += shade * thin / n;
            met.epidermis_k = met.epidermis_k.max(reached);
            met.white += f64::from(u8::from(white)) / n;
        }
        met
    }

    /// Marks the places under a pulse.
    pub fn mark(&mut self, pulse: &Pulse, left: Left) {
        for i in self.under(pulse.centre, pulse.spot_mm) {
            let Some(cell) = self.cells.get_mut(i) else { continue };
            if let Some(until) = left.white_until_ms {
                cell.white_until_ms = cell.white_until_ms.max(until);
            }
            cell.blood |= left.blood;
            cell.separated |= left.separated;
            cell.darkened |= left.darkened;
        }
    }

    /// A mean over the cells.
    fn mean(&self, of: impl Fn(&Cell) -> f64) -> f64 {
        self.cells.iter().map(of).sum::<f64>() / self.cells.len().max(1) as f64
    }

    pub fn ink_left(&self) -> f64 {
        self.mean(|c| f64::from(c.ink))
    }
    /// Ink left where a place that was hurt or turned dark counts as not cleared at all.
    pub fn ink_left_or_hurt(&self, before: f64) -> f64 {
        self.mean(|c| if c.separated || c.darkened || c.blood { before } else { f64::from(c.ink) })
    }
    pub fn darkened(&self) -> f64 {
        self.mean(|c| f64::from(u8::from(c.darkened)))
    }
    pub fn separated(&self) -> f64 {
        self.mean(|c| f64::from(u8::from(c.separated)))
    }
    pub fn bled(&self) -> f64 {
        self.mean(|c| f64::from(u8::from(c.blood)))
    }
    pub fn hit_while_white(&self) -> f64 {
        self.mean(|c| f64::from(u8::from(c.hit_while_white)))
    }
    pub fn hottest_k(&self) -> f64 {
        self.cells.iter().map(|c| f64::from(c.peak)).fold(0.0, f64::max)
    }

    /// Chance that the zone blisters, and that its pigment changes: that of the hottest tenth of its places.
    pub fn later(&self) -> (f64, f64) {
        let mut peaks: Vec<f32> = self.cells.iter().map(|c| c.peak).collect();
        peaks.sort_by(|a, b| b.total_cmp(a));
        let n = (peaks.len() / 10).max(1);
        let mean =
            |middle, power| peaks.iter().take(n).map(|k| chance(f64::from(*k), middle, power)).sum::<f64>() / n as f64;
        (mean(BLISTERS_K, BLISTERS_POWER), mean(PIGMENT_K, PIGMENT_POWER))
    }
}
