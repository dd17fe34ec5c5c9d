//! A run's light as bytes, to be kept and read back, and what tells one run from another.

use super::pencil::Pencil;
use super::rings::RINGS;
use super::run::{BATCHES, Goal, Request};
use super::tally::Tally;
use crate::physics::transport::Beam;

/// Changes whenever the same request would give other figures, so that what was kept before is not taken for new.
const METHOD: u64 = 1;

const MARK: &[u8; 16] = b"fadewright light";

impl Request<'_> {
    /// All that the outcome depends on, as bytes: the same for two requests exactly when they give the same figures.
    /// Threads do not count.
    #[must_use]
    pub fn identity(&self) -> Vec<u8> {
        let mut words: Vec<u64> = vec![METHOD, BATCHES, RINGS as u64, self.seed];
        words.extend([self.stack.n_above(), self.stack.n_below()].map(f64::to_bits));
        words.push(self.stack.layers().len() as u64);
        for l in self.stack.layers() {
            words.extend([l.n, l.mua_per_cm, l.mus_per_cm, l.g, l.thickness_cm].map(f64::to_bits));
        }
        match self.goal {
            Goal::Photons(n) => words.extend([0, n, 0]),
            Goal::Precision { relative, at_most } => words.extend([1, relative.to_bits(), at_most]),
        }
        words.push(self.depths_cm.len() as u64);
        words.extend(self.depths_cm.iter().map(|d| d.to_bits()));
        for (beam, depth) in self.targets {
            let (kind, diameter) = match *beam {
                Beam::Wide => (0, 0.0),
                Beam::Flat { diameter_cm } => (1, diameter_cm),
                Beam::Gaussian { diameter_cm } => (2, diameter_cm),
            };
            words.extend([kind, diameter.to_bits(), depth.to_bits()]);
        }
        words.iter().flat_map(|w| w.to_le_bytes()).collect()
    }
}

impl Pencil {
    /// The same light in fewer batches, neighbours added together: smaller to keep, its errors known a little less
    /// well (18 % with 16 batches, 9 % with 64).
    #[must_use]
    pub fn condensed(&self, batches: usize) -> Self {
        let together = self.batches.len().div_ceil(batches.max(1)).max(1);
        let sum = |group: &[Tally]| {
            let mut sum = Tally::default();
            for t in group {
                if sum.rings.is_empty() {
                    sum = t.clone();
                } else {
                    sum.add(t);
                }
            }
            sum
        };
        Self { batches: self.batches.chunks(together).map(sum).collect(), ..self.clone() }
    }

    /// The light as bytes.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut words: Vec<u64> = vec![self.batches.len() as u64, self.planes.len() as u64, self.entering.to_bits()];
        for (depth, plane) in &self.planes {
            words.extend([depth.to_bits(), *plane as u64]);
        }
        for b in &self.batches {
            words.extend([b.photons, b.rings.len() as u64]);
            words.extend(&b.rings);
        }
        MARK.iter().copied().chain(words.iter().flat_map(|w| w.to_le_bytes())).collect()
    }

    /// The light from its bytes; none where they are not what [`Pencil::to_bytes`] gave.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let rest = bytes.strip_prefix(MARK)?;
        let (chunks, []) = rest.as_chunks::<8>() else { return None };
        let mut words = chunks.iter().map(|c| u64::from_le_bytes(*c));
        let (batches, planes, entering) = (words.next()?, words.next()?, f64::from_bits(words.next()?));
        // Read one by one to the end of the bytes: a wrong count reserves nothing.
        let planes = (0..planes).map(|_| Some((f64::from_bits(words.next()?), usize::try_from(words.next()?).ok()?)));
        let planes: Vec<(f64, usize)> = planes.collect::<Option<_>>()?;
        let count = planes.iter().map(|(_, p)| p.saturating_add(1)).max()?.checked_mul(RINGS)?;
        let batches = (0..batches).map(|_| {
            let photons = words.next()?;
            let rings = usize::try_from(words.next()?).ok().filter(|n| *n == count)?;
            let rings: Vec<u64> = words.by_ref().take(rings).collect();
            (rings.len() == count).then(|| Tally { photons, rings, ..Tally::default() })
        });
        let batches: Vec<Tally> = batches.collect::<Option<_>>()?;
        let whole = words.next().is_none() && !batches.is_empty() && (0.0..=1.0).contains(&entering);
        whole.then_some(Self { batches, planes, entering })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::transport::montecarlo::run;
    use crate::physics::{Layer, Stack};

    fn stack() -> Stack {
        let layer = Layer { n: 1.4, mua_per_cm: 1.0, mus_per_cm: 100.0, g: 0.9, thickness_cm: 0.2 };
        Stack::new(1.0, 1.0, vec![layer]).unwrap()
    }

    fn request(stack: &Stack) -> Request<'_> {
        Request { stack, goal: Goal::Photons(5000), seed: 1, threads: 2, depths_cm: &[0.0, 0.1], targets: &[] }
    }

    #[test]
    fn what_is_kept_is_read_back_the_same_and_a_cut_or_lengthened_file_is_not() {
        let stack = stack();
        let pencil = run(&request(&stack), &()).unwrap().pencil.unwrap();
        let bytes = pencil.to_bytes();
        let back = Pencil::from_bytes(&bytes).unwrap();
        let beam = Beam::Flat { diameter_cm: 0.3 };
        assert_eq!(back.batch_values(beam, 0.1).unwrap(), pencil.batch_values(beam, 0.1).unwrap());
        for cut in [0, 3, 16, 24, 40, bytes.len() / 2, bytes.len() - 8, bytes.len() - 1] {
            assert!(Pencil::from_bytes(&bytes[..cut]).is_none(), "{cut}");
        }
        assert!(Pencil::from_bytes(&[bytes.as_slice(), &[0; 8]].concat()).is_none());
        // Counts that would be more than any memory.
        let mut huge = bytes;
        huge[16..24].fill(0xff);
        assert!(Pencil::from_bytes(&huge).is_none());
        huge[24..32].fill(0xff);
        assert!(Pencil::from_bytes(&huge).is_none());
    }

    #[test]
    fn fewer_batches_hold_the_same_light() {
        let stack = stack();
        let pencil = run(&request(&stack), &()).unwrap().pencil.unwrap();
        let few = pencil.condensed(16);
        assert_eq!(few.batches.len(), 16);
        let (all, few) = (pencil.fluence(Beam::Wide, 0.1).unwrap(), few.fluence(Beam::Wide, 0.1).unwrap());
        assert!((all.value - few.value).abs() < 1e-12);
        assert!((few.standard_error.unwrap() / all.standard_error.unwrap() - 1.0).abs() < 0.6);
    }

    #[test]
    fn every_input_tells_runs_apart_but_for_the_threads() {
        let stack = stack();
        let base = request(&stack);
        let same = Request { threads: 7, ..base.clone() };
        assert_eq!(base.identity(), same.identity());
        let thicker = Stack::new(1.0, 1.0, vec![Layer { thickness_cm: 0.3, ..stack.layers()[0] }]).unwrap();
        let others = [
            Request { seed: 2, ..base.clone() },
            Request { goal: Goal::Photons(5001), ..base.clone() },
            Request { goal: Goal::Precision { relative: 0.1, at_most: 5000 }, ..base.clone() },
            Request { depths_cm: &[0.0], ..base.clone() },
            Request { targets: &[(Beam::Wide, 0.1)], ..base.clone() },
            Request { stack: &thicker, ..base.clone() },
        ];
        for other in others {
            assert_ne!(base.identity(), other.identity());
        }
    }
}
