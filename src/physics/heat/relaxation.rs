//! Thermal relaxation time: a name that several formulas share.

use crate::physics::Estimate;
use crate::words::words;

/// Thermal diffusivity of skin in m2/s: nominal 1.3e-7, the figure of the trade (Anderson RR, Parrish JA, Science
/// 1983;220:524-527, from memory); low 0.984e-7, from published properties of dermis (0.37 W/mK, 1109 kg/m3, 3391
/// J/kgK: an open voxel code's tissue list); high 1.5e-7, water at 37 C (from memory).
pub const DIFFUSIVITY_M2_S: Estimate = Estimate { low: 0.984e-7, nominal: 1.3e-7, high: 1.5e-7 };

/// Shape of what cools.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A granule or a cell; the size is its diameter.
    Sphere,
    /// A vessel; the size is its diameter.
    Cylinder,
    /// A layer; the size is its thickness.
    Plane,
}

words! {
    /// What is meant by relaxation time. All are `d^2 / (divisor x diffusivity)`; they differ by up to ten-fold.
    Definition, "definition of relaxation time" {
        /// Sphere 27, cylinder 16, plane 16/3: the centre of a Gaussian temperature profile, 1/e radius `d/2`, falls to
        /// half. The usual one. Source: Anderson RR, Parrish JA, Science 1983;220:524-527 (from memory; the meaning is
        /// derived here, exactly 27.24 for the sphere).
        AndersonParrish = "anderson-parrish",
        /// Sphere 24, cylinder 16, plane 8. Source: Altshuler GB et al., Lasers Surg Med 2001;29:416-432 (from memory).
        Altshuler = "altshuler",
        /// The centre of an evenly heated body falls to half: sphere 18.93, cylinder 11.09, plane 3.64. Exact.
        CentreHalf = "centre-half",
        /// The mean over an evenly heated sphere falls to half: 39.92. Exact; for a sphere only.
        MeanHalf = "mean-half",
        /// 16 for every shape: common practice.
        Sixteenth = "sixteenth",
        /// 4 for every shape, as for a layer or an optical depth: van Gemert MJC, Welch AJ, 1989 (from memory).
        Quarter = "quarter",
    }
}

impl Definition {
    /// The number below `d^2 / diffusivity`; none where the definition says nothing of the shape.
    #[must_use]
    pub const fn divisor(self, shape: Shape) -> Option<f64> {
        Some(match (self, shape) {
            (Self::AndersonParrish, Shape::Sphere) => 27.0,
            (Self::AndersonParrish, Shape::Plane) => 16.0 / 3.0,
            (Self::Altshuler, Shape::Sphere) => 24.0,
            (Self::Altshuler, Shape::Plane) => 8.0,
            (Self::AndersonParrish | Self::Altshuler, Shape::Cylinder) | (Self::Sixteenth, _) => 16.0,
            // Four over the Fourier number `diffusivity t / (d/2)^2` at which the solution for an evenly heated body
            // has fallen to half.
            (Self::CentreHalf, Shape::Sphere) => 4.0 / 0.211_329_467_0,
            (Self::CentreHalf, Shape::Cylinder) => 4.0 / 0.360_673_760_2,
            (Self::CentreHalf, Shape::Plane) => 4.0 / 1.099_054_669_2,
            (Self::MeanHalf, Shape::Sphere) => 4.0 / 0.100_207_523_9,
            (Self::MeanHalf, Shape::Cylinder | Shape::Plane) => return None,
            (Self::Quarter, _) => 4.0,
        })
    }

    /// Relaxation time in s for a size in m and a diffusivity in m2/s; none where the definition says nothing of the
    /// shape.
    #[must_use]
    pub fn relaxation_s(self, shape: Shape, size_m: f64, diffusivity_m2_s: f64) -> Option<f64> {
        self.divisor(shape).map(|divisor| size_m * size_m / (divisor * diffusivity_m2_s))
    }

    /// What is computed, for a person.
    #[must_use]
    pub const fn explained(self) -> &'static str {
        match self {
            Self::AndersonParrish => {
                "d^2/(27 kappa): Anderson and Parrish 1983, centre of a Gaussian profile at half (sphere)"
            }
            Self::Altshuler => "d^2/(24 kappa): Altshuler 2001 (sphere)",
            Self::CentreHalf => "d^2/(18.93 kappa): centre of an evenly heated sphere at half",
            Self::MeanHalf => "d^2/(39.92 kappa): mean over an evenly heated sphere at half",
            Self::Sixteenth => "d^2/(16 kappa): common practice",
            Self::Quarter => "d^2/(4 kappa): as for a layer",
        }
    }
}
