//! Announcements spoken by a real synthesiser into a file of sound.

use super::lines::{Done, Lines};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

const SYNTHESISER: &str = "espeak-ng";

/// Sound as a WAV file holds it.
struct Sound {
    samples_per_s: u32,
    samples: Vec<i16>,
}

impl Sound {
    /// Reads one channel of 16-bit samples; none while the file is not finished.
    ///
    /// RIFF WAVE as in "Multimedia Programming Interface and Data Specifications 1.0" (IBM and Microsoft, 1991), quoted
    /// from memory: `RIFF`, size, `WAVE`, then chunks of a name, a size and data.
    fn read(bytes: &[u8]) -> Option<Self> {
        let u32_at = |at: usize| Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
        let u16_at = |at: usize| Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?));
        if bytes.get(..4)? != b"RIFF" || bytes.get(8..12)? != b"WAVE" || u32_at(4)? as usize + 8 != bytes.len() {
            return None;
        }
        let (mut at, mut samples_per_s) = (12, None);
        loop {
            let (name, size) = (bytes.get(at..at + 4)?, u32_at(at + 4)? as usize);
            match name {
                b"fmt " => {
                    assert_eq!(
                        (u16_at(at + 8)?, u16_at(at + 10)?, u16_at(at + 22)?),
                        (1, 1, 16),
                        "one channel, 16 bit"
                    );
                    samples_per_s = u32_at(at + 12);
                }
                b"data" => {
                    let data = bytes.get(at + 8..at + 8 + size)?;
                    let samples = data.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
                    return Some(Self { samples_per_s: samples_per_s?, samples });
                }
                _ => {}
            }
            at += 8 + size + size % 2;
        }
    }

    fn seconds(&self) -> f64 {
        self.samples.len() as f64 / f64::from(self.samples_per_s)
    }

    /// The share of tenths of a second in which something is heard: a peak above a hundredth of full scale.
    fn voiced(&self) -> f64 {
        let tenths: Vec<_> = self.samples.chunks((self.samples_per_s / 10) as usize).collect();
        let loud = tenths.iter().filter(|t| t.iter().any(|s| s.unsigned_abs() > 327)).count();
        loud as f64 / tenths.len().max(1) as f64
    }
}

/// A session whose announcements are spoken into a file: its counts and, if wanted, an advice.
fn spoken(home: &Path, counts: &[u64], bleeding: bool) -> Result<Sound, String> {
    let there = Command::new(SYNTHESISER).arg("--version").output();
    assert!(there.is_ok_and(|o| o.status.success()), "{SYNTHESISER} is missing: install it, these tests need it");
    let wav = home.join("said.wav");
    let config = home.join("config/fadewright");
    std::fs::create_dir_all(&config).unwrap();
    let text = format!(
        "kind = \"fadewright announcements\"\nschema = 1\ncommand = [\"{SYNTHESISER}\", \"-w\", \"{}\"]\nevery = 5\n",
        wav.display()
    );
    std::fs::write(config.join("announcements.toml"), text).unwrap();
    let plan = format!("{}/sample-plans/two-zone-band.toml", env!("CARGO_MANIFEST_DIR"));
    let mut l = Lines::start(home, &["treat", &plan, "--plain"]);
    l.begin_a_pass()?;
    for n in counts {
        l.tell(&format!("count {n}"), " of 175.")?;
    }
    if bleeding {
        l.tell("bleeding", "Answer: accept, decline or stop.")?;
    }
    let (code, words) = l.end()?;
    assert_eq!(code, Some(0), "{words}");
    assert!(!String::from_utf8_lossy(&l.bytes()).contains("announcements ended"), "{words}");
    // The synthesiser may finish what it is saying after the session has ended.
    for _ in 0..600 {
        if let Some(sound) = std::fs::read(&wav).ok().and_then(|bytes| Sound::read(&bytes)) {
            return Ok(sound);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    Err(format!("{} was not finished as a WAV file", wav.display()))
}

#[test]
fn announcements_are_spoken_by_a_real_synthesiser() -> Done {
    let (short, long) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let few = spoken(short.path(), &[], false)?;
    let many = spoken(long.path(), &[5, 6, 7, 8], true)?;
    for sound in [&few, &many] {
        assert!(sound.samples_per_s >= 8_000, "{}", sound.samples_per_s);
        let voiced = sound.voiced();
        assert!((0.3..=1.0).contains(&voiced), "heard in {voiced} of the time");
    }
    // Questions of the sign-in and one pass, some forty words; four counts and an advice of some forty words more. People
    // are read to at 2 to 4 words a second (common practice).
    assert!((5.0..120.0).contains(&few.seconds()), "{} s", few.seconds());
    assert!(many.seconds() > few.seconds() + 8.0, "{} s and {} s", few.seconds(), many.seconds());
    Ok(())
}

#[test]
fn silence_and_half_a_file_are_not_taken_for_speech() {
    let wav = |samples: &[i16]| {
        let data: Vec<u8> = samples.iter().flat_map(|s| s.to_le_bytes()).collect();
        let mut bytes = b"RIFF".to_vec();
        bytes.extend((36 + data.len() as u32).to_le_bytes());
        bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
        bytes.extend(8_000u32.to_le_bytes());
        bytes.extend(16_000u32.to_le_bytes());
        bytes.extend(b"\x02\0\x10\0data");
        bytes.extend((data.len() as u32).to_le_bytes());
        bytes.extend(data);
        bytes
    };
    let silent = Sound::read(&wav(&[0; 16_000])).unwrap();
    assert!((silent.seconds() - 2.0).abs() < 1e-9 && silent.voiced() < 1e-9);
    let loud = Sound::read(&wav(&[20_000; 8_000])).unwrap();
    assert!((loud.voiced() - 1.0).abs() < 1e-9);
    let whole = wav(&[20_000; 8_000]);
    assert!(Sound::read(&whole[..whole.len() - 2]).is_none(), "a file that is still being written");
}
