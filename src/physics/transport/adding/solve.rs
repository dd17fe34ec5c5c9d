//! All layers and boundaries together.

use super::directions::{Directions, lit_up_to};
use super::interface::Boundary;
use super::layer::Slab;
use super::quadrature::nodes;
use super::{AddingError, Angular, WideBeam};
use crate::physics::Stack;
use crate::physics::transport::fresnel;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// Two depths closer than this, relative to the larger, are one.
const SAME_DEPTH: f64 = 1e-12;

/// A layer with all that lies beneath it.
struct Placed {
    directions: Directions,
    slab: Slab,
    /// The boundary on top of the layer.
    top: Boundary,
    /// Reflection of the layer with everything beneath it, for light that goes down in it.
    seen: DMatrix<f64>,
    /// Reflection of what lies beneath the layer; none where nothing comes back.
    floor: Option<DMatrix<f64>>,
    /// What reaches the layer's floor, for light that goes down at its top.
    reaches: DMatrix<f64>,
}

/// Light at the two faces of a layer, just inside.
struct Faces {
    down: [DVector<f64>; 2],
    up: [DVector<f64>; 2],
}

impl Faces {
    fn sum(&self, face: usize) -> DVector<f64> {
        match (self.down.get(face), self.up.get(face)) {
            (Some(down), Some(up)) => down + up,
            _ => DVector::zeros(0),
        }
    }
}

/// A solved stack: what leaves it and what is at each face.
pub(super) struct Solved<'a> {
    stack: &'a Stack,
    placed: Vec<Placed>,
    faces: Vec<Faces>,
    above: Directions,
    below: Directions,
    bottom: Boundary,
}

impl<'a> Solved<'a> {
    pub(super) fn new(stack: &'a Stack, order: usize) -> Result<Self, AddingError> {
        let nodes = nodes(stack, order);
        let above = Directions::of(&nodes, stack.n_above(), f64::INFINITY);
        let below = Directions::of(&nodes, stack.n_below(), f64::INFINITY);
        let reach = lit_up_to(stack);
        let media: Vec<Directions> =
            stack.layers().iter().zip(reach).map(|(l, reach)| Directions::of(&nodes, l.n, reach)).collect();
        let bottom = Boundary::new(media.last().unwrap_or(&above).boundary(&below));
        let mut placed: Vec<Placed> = Vec::with_capacity(media.len());
        // From the bottom up: what each layer sees beneath it.
        for (i, (layer, directions)) in stack.layers().iter().zip(&media).enumerate().rev() {
            let slab = Slab::new(layer, directions, 2 * order).ok_or(AddingError::NotSolved)?;
            let size = directions.len();
            let floor = match placed.last() {
                _ if layer.thickness_cm.is_infinite() => None,
                Some(beneath) => Some(beneath.top.over(&beneath.seen, size).ok_or(AddingError::NotSolved)?),
                None => bottom.bare(size),
            };
            let (seen, reaches) = on_floor(&slab, floor.as_ref()).ok_or(AddingError::NotSolved)?;
            let over = i.checked_sub(1).and_then(|i| media.get(i)).unwrap_or(&above);
            let top = Boundary::new(over.boundary(directions));
            placed.push(Placed { directions: directions.clone(), slab, top, seen, floor, reaches });
        }
        placed.reverse();
        // From the top down: the light itself, one unit of flux along the normal.
        let mut down = DVector::zeros(above.len());
        if let (Some(s), Some(q)) = (down.iter_mut().next(), above.flux.iter().next()) {
            *s = q.recip();
        }
        let mut faces = Vec::with_capacity(placed.len());
        for layer in &placed {
            let entered = layer.top.enter(&down, &layer.seen).ok_or(AddingError::NotSolved)?;
            let leaves = &layer.seen * &entered;
            let arrives = &layer.reaches * &entered;
            let returns = layer.floor.as_ref().map_or_else(|| DVector::zeros(arrives.len()), |f| f * &arrives);
            down.clone_from(&arrives);
            faces.push(Faces { down: [entered, arrives], up: [leaves, returns] });
        }
        Ok(Self { stack, placed, faces, above, below, bottom })
    }

    /// What leaves upwards in each direction of the medium above, without the first boundary's own reflection.
    fn leaving_up(&self) -> DVector<f64> {
        match (self.placed.first(), self.faces.first()) {
            (Some(layer), Some(Faces { up: [top, _], .. })) => {
                let size = self.above.len().min(top.len());
                layer.top.passes(size).component_mul(&top.rows(0, size)).component_mul(&self.above.flux.rows(0, size))
            }
            _ => DVector::zeros(0),
        }
    }

    /// What leaves downwards in each direction of the medium below.
    fn leaving_down(&self) -> DVector<f64> {
        match self.faces.last() {
            Some(Faces { down: [_, floor], .. }) => {
                let size = self.below.len().min(floor.len());
                self.bottom
                    .passes(size)
                    .component_mul(&floor.rows(0, size))
                    .component_mul(&self.below.flux.rows(0, size))
            }
            None => DVector::zeros(0),
        }
    }

    /// The figures, with the fluence at depths that lie within the stack.
    pub(super) fn wide_beam(&self, depths_cm: &[f64]) -> WideBeam {
        let specular = fresnel::specular_of_clear_top(self.stack);
        let front = self.placed.first().map_or(0.0, |layer| layer.top.normal());
        let absorbed = self.placed.iter().zip(&self.faces).map(|(layer, faces)| {
            let [top, floor] = &faces.down;
            let [leaves, returns] = &faces.up;
            let net = |down: &DVector<f64>, up: &DVector<f64>| layer.directions.flux.dot(&(down - up));
            (net(top, leaves) - net(floor, returns)).max(0.0)
        });
        WideBeam {
            specular_reflectance: specular,
            diffuse_reflectance: (front + self.leaving_up().sum() - specular).max(0.0),
            transmittance: self.leaving_down().sum(),
            unscattered_transmittance: fresnel::unscattered_transmittance(self.stack),
            absorbed: absorbed.collect(),
            fluence: self.fluence(depths_cm),
        }
    }

    fn fluence(&self, depths_cm: &[f64]) -> Vec<f64> {
        let mut top = 0.0;
        let mut tops = Vec::with_capacity(self.placed.len());
        for layer in self.stack.layers() {
            tops.push(top);
            top += layer.thickness_cm;
        }
        let at = |depth: &f64| {
            // At a boundary, the layer beneath; at the end of the stack, the last layer.
            let i = tops.iter().rposition(|top| *top <= depth * (1.0 + SAME_DEPTH))?;
            let (layer, faces, top) = (self.placed.get(i)?, self.faces.get(i)?, tops.get(i)?);
            Some(layer.slab.fluence(&faces.sum(0), &faces.sum(1), depth - top))
        };
        // Every depth has a layer: the first begins at 0.
        depths_cm.iter().map(|depth| at(depth).unwrap_or(f64::NAN)).collect()
    }

    /// Power per solid angle in the directions of the outer media.
    pub(super) fn angular(&self) -> Angular {
        let per_sr = |flux: DVector<f64>, directions: &Directions| {
            let weights = directions.root_weights().map(|w| TAU * w * w);
            directions.cosines.iter().zip(flux.iter().zip(weights.iter())).map(|(c, (f, w))| (*c, f / w)).collect()
        };
        let mut down = self.leaving_down();
        if let Some(normal) = down.iter_mut().next() {
            *normal -= fresnel::unscattered_transmittance(self.stack);
        }
        Angular {
            reflected_per_sr: per_sr(self.leaving_up(), &self.above),
            transmitted_per_sr: per_sr(down, &self.below),
        }
    }
}

/// A layer on what lies beneath it: the reflection seen from its top, and what reaches its floor.
fn on_floor(slab: &Slab, floor: Option<&DMatrix<f64>>) -> Option<(DMatrix<f64>, DMatrix<f64>)> {
    let Some(floor) = floor else {
        return Some((slab.reflect.clone(), slab.transmit.clone()));
    };
    let size = floor.nrows();
    let trains = DMatrix::identity(size, size) - &slab.reflect * floor;
    let reaches = trains.lu().solve(&slab.transmit)?;
    let seen = &slab.reflect + &slab.transmit * (floor * &reaches);
    Some((seen, reaches))
}
