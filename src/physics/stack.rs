//! A stack of plane layers, checked.

use serde::Serialize;

/// One plane layer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Layer {
    /// Refractive index, 1 to 4.
    pub n: f64,
    /// Absorption coefficient in 1/cm, 0 to 1e6.
    pub mua_per_cm: f64,
    /// Scattering coefficient in 1/cm, 0 to 1e6.
    pub mus_per_cm: f64,
    /// Anisotropy of scattering (mean cosine), above -1 and below 1.
    pub g: f64,
    /// Thickness in cm, above 0; the last layer may be infinite.
    pub thickness_cm: f64,
}

impl Layer {
    /// Total attenuation coefficient in 1/cm.
    #[must_use]
    pub fn mut_per_cm(&self) -> f64 {
        self.mua_per_cm + self.mus_per_cm
    }
    /// Whether light passes it without any interaction, as through glass.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.mut_per_cm() <= 0.0
    }
}

/// Why layers make no stack. `layer` counts from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StackError {
    /// No layer at all.
    #[error("there is no layer")]
    Empty,
    /// More layers than are handled.
    #[error("{count} layers are more than the {max} that are handled")]
    TooMany {
        /// How many there are.
        count: usize,
        /// How many may be.
        max: usize,
    },
    /// A value out of range.
    #[error("{field} {value} is not {wanted}")]
    OutOfRange {
        /// The layer, from 1; none for the medium above or below.
        layer: Option<usize>,
        /// Name of the field.
        field: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        wanted: &'static str,
    },
    /// A last layer without an end and without absorption: light in it comes to no end.
    #[error("the last layer has no end and no absorption: light in it would be followed for ever")]
    Endless,
}

/// Layers from the top (where the light comes in) to the bottom, between two clear media.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stack {
    n_above: f64,
    n_below: f64,
    layers: Vec<Layer>,
}

impl Stack {
    /// More layers than any model of skin needs.
    pub const MAX_LAYERS: usize = 100;
    /// Largest absorption or scattering coefficient in 1/cm.
    pub const MAX_COEFFICIENT_PER_CM: f64 = 1e6;

    /// Checks layers and the refractive indices of what lies above and below.
    ///
    /// # Errors
    /// [`StackError`] names the layer and the field.
    pub fn new(n_above: f64, n_below: f64, layers: Vec<Layer>) -> Result<Self, StackError> {
        let index = |n: f64| (1.0..=4.0).contains(&n);
        let check = |ok: bool, layer: Option<usize>, field, value, wanted| {
            if ok { Ok(()) } else { Err(StackError::OutOfRange { layer, field, value, wanted }) }
        };
        check(index(n_above), None, "n_above", n_above, "from 1 to 4")?;
        check(index(n_below), None, "n_below", n_below, "from 1 to 4")?;
        if layers.len() > Self::MAX_LAYERS {
            return Err(StackError::TooMany { count: layers.len(), max: Self::MAX_LAYERS });
        }
        for (i, l) in layers.iter().enumerate() {
            let at = Some(i + 1);
            let coefficient = |c: f64| (0.0..=Self::MAX_COEFFICIENT_PER_CM).contains(&c);
            check(index(l.n), at, "n", l.n, "from 1 to 4")?;
            check(coefficient(l.mua_per_cm), at, "mua_per_cm", l.mua_per_cm, "from 0 to 1e6")?;
            check(coefficient(l.mus_per_cm), at, "mus_per_cm", l.mus_per_cm, "from 0 to 1e6")?;
            check(l.g > -1.0 && l.g < 1.0, at, "g", l.g, "above -1 and below 1")?;
            let last = i + 1 == layers.len();
            let thick = l.thickness_cm > 0.0 && (l.thickness_cm <= 1e4 || (last && l.thickness_cm.is_infinite()));
            check(thick, at, "thickness_cm", l.thickness_cm, "above 0, at most 1e4, or inf for the last layer")?;
        }
        let Some(last) = layers.last() else { return Err(StackError::Empty) };
        if last.thickness_cm.is_infinite() && last.mua_per_cm <= 0.0 {
            return Err(StackError::Endless);
        }
        Ok(Self { n_above, n_below, layers })
    }

    /// Refractive index of the medium above.
    #[must_use]
    pub const fn n_above(&self) -> f64 {
        self.n_above
    }
    /// Refractive index of the medium below.
    #[must_use]
    pub const fn n_below(&self) -> f64 {
        self.n_below
    }
    /// The layers, at least one.
    #[must_use]
    pub fn layers(&self) -> &[Layer] {
        &self.layers
    }
    /// Thickness of all layers in cm; infinite when the last one is.
    #[must_use]
    pub fn thickness_cm(&self) -> f64 {
        self.layers.iter().map(|l| l.thickness_cm).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SKIN: Layer = Layer { n: 1.4, mua_per_cm: 1.0, mus_per_cm: 100.0, g: 0.9, thickness_cm: 0.1 };

    fn error(layers: &[Layer]) -> StackError {
        Stack::new(1.0, 1.0, layers.to_vec()).unwrap_err()
    }

    #[test]
    fn what_is_out_of_range_is_refused_with_layer_and_field() {
        let named = |layer: Layer| match error(&[SKIN, layer, SKIN]) {
            StackError::OutOfRange { layer: Some(2), field, .. } => field,
            other => panic!("{other:?}"),
        };
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 1e7] {
            assert_eq!(named(Layer { mua_per_cm: bad, ..SKIN }), "mua_per_cm");
            assert_eq!(named(Layer { mus_per_cm: bad, ..SKIN }), "mus_per_cm");
            assert_eq!(named(Layer { n: bad, ..SKIN }), "n");
            assert_eq!(named(Layer { thickness_cm: bad, ..SKIN }), "thickness_cm");
        }
        for bad in [f64::NAN, 1.0, -1.0, 1.5] {
            assert_eq!(named(Layer { g: bad, ..SKIN }), "g");
        }
        assert_eq!(named(Layer { thickness_cm: 0.0, ..SKIN }), "thickness_cm");
        assert_eq!(error(&[]), StackError::Empty);
        assert!(matches!(error(&[SKIN; 101]), StackError::TooMany { .. }));
        assert!(Stack::new(0.9, 1.0, vec![SKIN]).is_err() && Stack::new(1.0, f64::NAN, vec![SKIN]).is_err());
    }

    #[test]
    fn only_the_last_layer_may_have_no_end_and_then_it_absorbs() {
        let endless = Layer { thickness_cm: f64::INFINITY, ..SKIN };
        assert!(Stack::new(1.0, 1.0, vec![SKIN, endless]).unwrap().thickness_cm().is_infinite());
        assert!(matches!(error(&[endless, SKIN]), StackError::OutOfRange { layer: Some(1), .. }));
        assert_eq!(error(&[Layer { mua_per_cm: 0.0, ..endless }]), StackError::Endless);
    }
}
