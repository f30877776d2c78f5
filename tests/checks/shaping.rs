//! Controllers shaped for a crossover and a margin: the loop rebuilt from the controller's actions, its stability
//! from the poles of the closed loop, and a textbook's lead.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::compensation::{Controller, ControllerForm, ShapeError, ShapeWish, shape};
use polewright::feedback::OpenLoop;
use polewright::plant::{Mode, Model, Plant, Point, Rigid, Sweep};
use polewright::response::{StateSpace, Transfer};
use polewright::stages::PidValues;

use super::draw::Draw;

impl Draw {
    fn plant(&mut self, crossover: f64) -> Model {
        let integrators = self.one_of(3);
        let omega = TAU * crossover;
        let gain = self.corner(0.01, 100.0) * [1.0, -1.0][self.one_of(2) as usize];
        let line = gain * omega.powi(integrators as i32);
        let modes = (0..self.one_of(3)).map(|_| {
            let frequency = crossover * self.corner(3.0, 20.0);
            let damping = self.corner(0.01, 0.3);
            let residue = gain * self.even(-0.1, 0.3) * omega * omega;
            Mode {
                frequency,
                damping,
                residue,
                slope: 0.0,
            }
        });
        let modes = modes.collect();
        Model {
            rigid: Some(Rigid::new(integrators, line)),
            modes,
            lag: (self.one_of(2) == 1).then(|| crossover * self.corner(0.1, 30.0)),
            delay: [0.0, self.even(0.0, 0.3) / omega][self.one_of(2) as usize],
        }
    }
}

/// The controller's answer, from its actions instead of its polynomials.
fn actions(controller: &Controller, f: f64) -> Complex64 {
    let s = Complex64::new(0.0, TAU * f);
    match *controller {
        Controller::Pid { roll_off, .. } => {
            let ask = controller.pid_ask().expect("a PID");
            let gains = ask.in_notation("gains").expect("gains").values;
            let PidValues::Gains { kp, ki, kd } = gains else {
                panic!("{gains:?}");
            };
            assert!(kp > 0.0 && ki > 0.0 && kd > -1e-12 * kp, "{gains:?}");
            kp + ki / s + kd * s / (1.0 + s / (TAU * roll_off))
        }
        Controller::Lead {
            gain,
            zero,
            pole,
            integrator,
        } => {
            assert!(gain > 0.0 && pole >= zero * (1.0 - 1e-9));
            let integral = integrator.map_or(Complex64::ONE, |i| 1.0 + TAU * i / s);
            gain * integral * (1.0 + s / (TAU * zero)) / (1.0 + s / (TAU * pole))
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn random_loops_get_their_crossover_and_margin() {
    let mut draw = Draw::new(21);
    let (mut reached, mut stable, mut beyond, mut again, mut spent) = (0, 0, 0, 0, 0);
    for number in 0..600 {
        let crossover = draw.corner(10.0, 1000.0);
        let model = draw.plant(crossover);
        let filter = Transfer {
            num: vec![1.0],
            den: vec![1.0, 1.4, 1.0],
            omega: TAU * crossover * draw.corner(4.0, 40.0),
        };
        let stages = [vec![], vec![&filter]][draw.one_of(2) as usize].clone();
        let open = OpenLoop {
            stages,
            plant: Plant::Model(&model),
            sign: [1.0, -1.0][draw.one_of(2) as usize],
        };
        let form = match draw.one_of(3) {
            0 => ControllerForm::Pid {
                integrator: draw.corner(0.03, 0.3),
                roll_off: draw.corner(3.0, 30.0),
            },
            1 => ControllerForm::LEAD,
            _ => ControllerForm::Lead {
                integrator: Some(draw.corner(0.03, 0.3)),
            },
        };
        let wish = ShapeWish {
            crossover,
            phase_margin: draw.even(20.0, 70.0),
            form,
        };
        let shaped = match shape(&open, &wish) {
            Ok(shaped) => shaped,
            Err(ShapeError::TooMuchLead(short) | ShapeError::TooMuchPhase(short)) => {
                beyond += 1;
                if let Some(corner) = short.integrator {
                    let form = match form {
                        ControllerForm::Pid { roll_off, .. } => ControllerForm::Pid {
                            integrator: corner,
                            roll_off,
                        },
                        _ => ControllerForm::Lead {
                            integrator: Some(corner),
                        },
                    };
                    assert!(
                        shape(&open, &ShapeWish { form, ..wish }).is_ok(),
                        "{number}"
                    );
                    spent += 1;
                }
                if let Some(crossover) = short.crossover {
                    assert!(
                        shape(&open, &ShapeWish { crossover, ..wish }).is_ok(),
                        "{number}"
                    );
                    again += 1;
                }
                // The margin that is said to be attainable is, but for a hair.
                let lacks = short.needed > short.reach.1;
                let phase_margin = short.margin - if lacks { 1e-6 } else { 0.0 };
                if (1.0..179.0).contains(&phase_margin) {
                    let wish = ShapeWish {
                        phase_margin,
                        ..wish
                    };
                    assert!(shape(&open, &wish).is_ok(), "{number}");
                }
                continue;
            }
            Err(other) => panic!("{number}: {other}"),
        };
        reached += 1;
        let sign = if shaped.adds { -1.0 } else { 1.0 };
        let rest = OpenLoop {
            sign,
            ..open.clone()
        };
        let there = rest.at(crossover) * actions(&shaped.controller, crossover);
        let margin = (-there).arg().to_degrees();
        assert!((there.norm() - 1.0).abs() < 1e-9, "{number}: {there}");
        assert!(
            (margin - wish.phase_margin).abs() < 1e-9,
            "{number}: {margin}"
        );
        let read = shaped.margins.gain_crossings.iter();
        let own = read.min_by(|a, b| {
            let off = |f: f64| (f / crossover).ln().abs();
            off(a.frequency).total_cmp(&off(b.frequency))
        });
        let own = own.expect("a crossing");
        assert!((own.frequency / crossover - 1.0).abs() < 1e-9, "{number}");
        assert!(
            (own.phase_margin - wish.phase_margin).abs() < 1e-6,
            "{number}"
        );
        if model.delay == 0.0 {
            let transfer = shaped.controller.transfer();
            let states = rest.states().expect("proper");
            let states = states.then(&StateSpace::of(&transfer).expect("proper"));
            let closed = states.closed().expect("closable").poles();
            let right = closed.iter().filter(|p: &&Complex64| p.re > 0.0).count();
            assert_eq!(shaped.unstable_poles, Some(right), "{number}");
            assert_eq!(
                right > 0,
                shaped.warnings.iter().any(|w| w.contains("unstable"))
            );
            stable += usize::from(right == 0);
        }
    }
    assert!(reached >= 150 && stable > 50 && beyond > 100 && again > 50 && spent > 20);
}

/// A sweep that begins above where its phase has turned: the sign is that which is within reach.
#[test]
fn a_sweep_of_a_mass_gets_its_sign() {
    for gain in [2.0, -2.0] {
        let points = (0..200).map(|k| {
            let frequency = 20.0 * 1.03f64.powi(k);
            let response = Complex64::from(-gain / (TAU * frequency).powi(2));
            Point::new(frequency, response)
        });
        let sweep = Sweep {
            points: points.collect(),
        };
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Sweep(&sweep),
            sign: 1.0,
        };
        let wish = ShapeWish {
            crossover: 300.0,
            phase_margin: 50.0,
            form: ControllerForm::PID,
        };
        let shaped = shape(&open, &wish).expect("a PID");
        assert_eq!(shaped.adds, gain < 0.0);
        let outside = ShapeWish {
            crossover: 1.0,
            ..wish
        };
        assert!(shape(&open, &outside).is_err());
    }
}

/// Ogata, "Modern Control Engineering", 7.11, example on lead compensation, from memory: 4/(s(s + 2)), velocity
/// constant 20/s, phase margin 50°, gives 41.7·(s + 4.41)/(s + 18.4), crossing over near 9 rad/s. The book adds a
/// few degrees by rule of thumb and reads charts.
#[test]
fn ogatas_lead() {
    let model = Model {
        rigid: Some(Rigid::new(1, 2.0)),
        lag: Some(2.0 / TAU),
        ..Model::default()
    };
    let open = OpenLoop {
        stages: Vec::new(),
        plant: Plant::Model(&model),
        sign: 1.0,
    };
    let wish = ShapeWish {
        crossover: 9.0 / TAU,
        phase_margin: 50.0,
        form: ControllerForm::LEAD,
    };
    let shaped = shape(&open, &wish).expect("a lead");
    let Controller::Lead {
        gain, zero, pole, ..
    } = shaped.controller
    else {
        panic!("{shaped:?}");
    };
    let near = |ours: f64, book: f64| assert!((ours / book - 1.0).abs() < 0.03, "{ours} {book}");
    near(TAU * zero, 4.41);
    near(TAU * pole, 18.4);
    near(gain * pole / zero, 41.7);
    near(2.0 * gain, 20.0);
    assert_eq!(shaped.unstable_poles, Some(0));
}

/// No wish and no plant makes it panic.
#[test]
fn odd_wishes_are_answered() {
    let mut draw = Draw::new(22);
    let odd = [
        0.0,
        1e-300,
        1e-9,
        0.5,
        1.0,
        90.0,
        180.0,
        1e9,
        1e300,
        f64::NAN,
        f64::INFINITY,
        -1.0,
    ];
    let (mut answered, mut refused) = (0, 0);
    for _ in 0..300 {
        let mut model = draw.plant(100.0);
        let mut wish = ShapeWish {
            crossover: 100.0,
            phase_margin: 45.0,
            form: [ControllerForm::PID, ControllerForm::LEAD][draw.one_of(2) as usize],
        };
        let value = odd[draw.one_of(odd.len() as u32) as usize];
        match draw.one_of(6) {
            0 => wish.crossover = value,
            1 => wish.phase_margin = value,
            2 => {
                wish.form = ControllerForm::Pid {
                    integrator: value,
                    roll_off: 10.0,
                }
            }
            3 => {
                wish.form = ControllerForm::Lead {
                    integrator: Some(value),
                }
            }
            4 => model.rigid = Some(Rigid::new(1, value)),
            _ => model.lag = Some(value),
        }
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        match shape(&open, &wish) {
            Ok(_) => answered += 1,
            Err(error) => {
                refused += 1;
                assert!(error.to_string().ends_with('.'), "{error}");
            }
        }
    }
    assert!(answered > 20 && refused > 100, "{answered} {refused}");
}
