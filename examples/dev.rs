use polewright::parts::{OpAmp, Shelf};
use polewright::pick::{Preference, Search};
use polewright::quantity::Unit;
use polewright::stages::{Ask, CATALOGUE, Model, Place, Scratch, Stage};
use std::collections::BTreeMap;
use std::time::Instant;

pub struct Random(pub u64);
impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    pub fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.part())
    }
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

fn wide(stage: &dyn Stage, r: &mut Random) -> Option<Ask> {
    let ask = stage.default_ask();
    let json = serde_json::to_value(&ask).unwrap();
    let f = r.between(0.2, 1e6) / ask.frequency();
    for _ in 0..50 {
        let mut j = json.clone();
        set(&mut j, &ask, f, r, stage);
        let Ok(got) = serde_json::from_value::<Ask>(j) else {
            continue;
        };
        if got.asked().conflicts().is_empty() {
            return Some(got);
        }
    }
    None
}
fn set(j: &mut serde_json::Value, ask: &Ask, f: f64, r: &mut Random, stage: &dyn Stage) {
    for e in ask.asked().entries() {
        if e.place != Place::Ask {
            continue;
        }
        let slot = j.pointer_mut(&format!("/{}", e.name));
        let Some(slot) = slot else {
            eprintln!("{} has no {}", stage.id(), e.name);
            continue;
        };
        let Some(v) = slot.as_f64() else { continue };
        let new = match (e.unit, e.name) {
            (Unit::Hertz, _) => v * f * r.between(0.6, 1.7),
            (Unit::Second, _) => v / f * r.between(0.6, 1.7),
            (Unit::Decibel, _) => v,
            (Unit::One, "q") => r.between(0.4, 9.0),
            (Unit::One, "gain") => {
                if r.part() < 0.3 {
                    v
                } else {
                    r.between(0.3, 12.0)
                }
            }
            (Unit::One, _) => v * r.between(0.5, 2.0),
            _ => v,
        };
        *slot = new.clamp(e.lowest, e.highest).into();
    }
    if stage.id() == "bainter-uneven-notch" {
        let at = |n: &str| j[n].as_f64().unwrap();
        j["gain"] = (at("null") / at("frequency")).powi(2).into();
    }
}

/// Annealing over the shelf.
fn anneal(
    model: &Model,
    shelf: &Shelf,
    r: &mut Random,
    starts: &[Vec<f64>],
    rounds: usize,
) -> (f64, Vec<f64>) {
    let g = model.stage.grouping();
    let mut knobs: Vec<Vec<usize>> = g
        .chosen
        .iter()
        .chain(g.free)
        .chain(g.solved)
        .map(|a| a.to_vec())
        .collect();
    for &(u, l) in g.dividers {
        knobs.push(vec![u]);
        knobs.push(vec![l]);
    }
    let lists: Vec<Vec<f64>> = knobs
        .iter()
        .map(|k| {
            model.netlist.parts()[k[0]]
                .kind
                .bin(shelf)
                .unwrap()
                .values()
        })
        .collect();
    let mut scratch = Scratch::default();
    let mut best = (f64::INFINITY, vec![]);
    let base: Vec<f64> = (0..model.netlist.parts().len())
        .map(|i| model.given(i))
        .collect();
    let mut cost = |at: &[usize]| {
        let mut v = base.clone();
        for ((k, l), &a) in knobs.iter().zip(&lists).zip(at) {
            for &p in k {
                v[p] = l[a];
            }
        }
        let m = model
            .term_shape()
            .miss(&model.terms(&v, None, &mut scratch));
        (if m.is_finite() { m } else { 1e9 }, v)
    };
    for s in 0..4 {
        let mut at: Vec<usize> = if let Some(start) = starts.get(s) {
            knobs
                .iter()
                .zip(&lists)
                .map(|(k, l)| l.partition_point(|v| *v < start[k[0]]).min(l.len() - 1))
                .collect()
        } else {
            lists.iter().map(|l| r.below(l.len())).collect()
        };
        let (mut c, v) = cost(&at);
        if c < best.0 {
            best = (c, v);
        }
        for k in 0..rounds {
            let t = 3.0 * (1.0 - k as f64 / rounds as f64).powi(2) + 0.003;
            let mut n = at.clone();
            for _ in 0..1 + r.below(3) {
                let i = r.below(n.len());
                let len = lists[i].len() as i64;
                let wide = if r.part() < 0.2 { len } else { 1 + (len / 12) };
                let by = r.below((2 * wide + 1) as usize) as i64 - wide;
                n[i] = (n[i] as i64 + by).clamp(0, len - 1) as usize;
            }
            let (cn, v) = cost(&n);
            if cn < best.0 {
                best = (cn, v);
            }
            let lc = |c: f64| (c + 0.01).ln() * 2.0;
            if cn <= c || r.part() < ((lc(c) - lc(cn)) / t).exp() {
                at = n;
                c = cn;
            }
        }
        if best.0 < 0.6 {
            break;
        }
    }
    best
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let count: usize = args.first().and_then(|a| a.parse().ok()).unwrap_or(4);
    let only = args.get(1).cloned().unwrap_or_default();
    let rounds: usize = args.get(2).and_then(|a| a.parse().ok()).unwrap_or(15000);
    let op = OpAmp {
        gain_db: 110.0,
        gain_bandwidth: 5e6,
        output_resistance: 60.0,
    };
    let shelf = Shelf::default();
    let (mut asks, mut out, mut lost, mut slowest) = (0, 0, 0, (0.0, String::new()));
    for stage in CATALOGUE.iter().copied() {
        if !only.is_empty() && !only.split(',').any(|o| stage.id() == o) {
            continue;
        }
        let mut r = Random(7 + stage.id().bytes().map(u64::from).sum::<u64>());
        let (mut total, mut mostk) = ([0.0f64; 6], [0.0f64; 6]);
        let (mut mine, mut mlost, mut took, mut most) = (0, 0, 0.0, 0.0f64);
        for _ in 0..count {
            let Some(ask) = wide(stage, &mut r) else {
                println!("{} no ask", stage.id());
                continue;
            };
            let model = Model::new(stage, &ask, &op).unwrap();
            let t = Instant::now();
            let mut s = Search::new(&model, &shelf, &BTreeMap::new(), Preference::Balanced);
            let mut spent = [0.0; 6];
            loop {
                let t = Instant::now();
                let mut once = true;
                let done = s.advance(&model, &mut || std::mem::take(&mut once));
                let p = s.progress();
                spent[if p <= 0.8 {
                    0
                } else if p < 0.91 {
                    1
                } else if p < 0.93 {
                    2
                } else if p < 0.95 {
                    3
                } else if p < 0.97 {
                    4
                } else {
                    5
                }] += t.elapsed().as_secs_f64() * 1e3;
                if done {
                    break;
                }
            }
            for k in 0..6 {
                total[k] += spent[k];
                if spent[k] > mostk[k] {
                    mostk[k] = spent[k];
                }
            }
            let c = s.take();
            let ms = t.elapsed().as_secs_f64() * 1e3;
            took += ms;
            most = most.max(ms);
            if ms > slowest.0 {
                slowest = (
                    ms,
                    format!("{} {}", stage.id(), serde_json::to_string(&ask).unwrap()),
                );
            }
            asks += 1;
            mine += 1;
            if std::env::var("LEAST").is_ok() && c.picks.first().is_some_and(|p| p.rank.miss > 1.0)
            {
                println!(
                    "  {} least {:?} best {:?}",
                    stage.id(),
                    c.least.as_ref().map(|l| l.0),
                    c.picks[0].rank.miss
                );
            }
            let miss = c.picks.first().map_or(f64::INFINITY, |p| p.rank.miss);
            if miss > 1.0 {
                out += 1;
                let starts: Vec<Vec<f64>> = c
                    .picks
                    .first()
                    .map(|p| p.values.clone())
                    .into_iter()
                    .collect();
                let (m, v) = anneal(&model, &shelf, &mut r, &starts, rounds);
                let bad = m <= 1.0 || miss > m + 0.1;
                if bad {
                    lost += 1;
                    mlost += 1;
                    println!(
                        "  least {:?} best {:?}",
                        c.least,
                        c.picks.first().map(|p| &p.values)
                    );
                    println!(
                        "  {} {} {:.3} vs {:.3} {:?} {}",
                        if m <= 1.0 { "LOST" } else { "worse" },
                        stage.id(),
                        miss,
                        m,
                        v,
                        serde_json::to_string(&ask).unwrap()
                    );
                }
            }
        }
        println!(
            "{:28} {} asks, {} lost, {:.1} ms mean, {:.1} most; mean {:.1?} most {:.1?}",
            stage.id(),
            mine,
            mlost,
            took / mine as f64,
            most,
            total.map(|t| t / mine as f64),
            mostk
        );
    }
    println!("{asks} asks, {out} out of reach, {lost} of them found; slowest {slowest:?}");
}
