//! How a first board is brought up: what is done in which order, and what goes wrong where.

/// One topic of the guide.
pub struct Topic {
    pub title: &'static str,
    /// One fact each, in their order.
    pub facts: &'static [&'static str],
    /// Where they are from.
    pub source: &'static str,
}

/// Before the loop is closed, and after it.
pub const TOPICS: [Topic; 7] = [
    Topic {
        title: "In which order",
        facts: &[
            "Before power: measure every supply pin to ground for a short, and compare the parts with the build sheet, value by value.",
            "Power the board without the plant, from a supply with a current limit at about twice the supply current told under Op amps.",
            "Measure DC: rails at the op amps' pins, then every op amp's output with the input grounded. It must be near 0, within the offset told \
             under Op amps; a stage that integrates may stand at a rail.",
            "Measure each stage's response by itself, first to last, then the path. Drop each into Bench before you go on.",
            "Connect the plant with the loop open, and measure the path and the plant together: that is L. Its margins stand in Bench.",
            "Close the loop at a tenth of the gain, then raise it. Measure again at each step.",
        ],
        source: "Common practice.",
    },
    Topic {
        title: "What to measure first",
        facts: &[
            "The supply current, and each rail with an AC-coupled probe: ripple that is there now is in all that follows.",
            "Every op amp's output with a probe of a few picofarads on a short ground spring. A long ground lead adds ringing of its own.",
            "A step of a few millivolts, not volts: a large one shows the slew rate, and a small one the stability.",
        ],
        source: "Common practice.",
    },
    Topic {
        title: "Quiet on a breadboard, not on the board",
        facts: &[
            "A linear bench supply has no lines. A switching converter has its switching frequency, its harmonics, and bursts and beats far below.",
            "One of these on a lightly damped mode is enough. The list under Supply lines says which can be.",
            "To tell: feed the board from the linear supply with the converters off. What stays is the loop's own.",
            "A breadboard's long wires and some 2 pF between rows also hide and shift what a fast op amp does. Quiet there proves little.",
        ],
        source: "Op Amps for Everyone, 4th ed., appendix C (layout), and common practice.",
    },
    Topic {
        title: "Decoupling",
        facts: &[
            "At each supply pin 100 nF of class 2 ceramic, within a few millimetres, with its own way to the ground plane; 10 µF for each rail \
             of a few op amps.",
            "Between a converter and an analog rail an LC or RC low-pass, damped: an undamped one peaks where it resonates.",
            "The return of a decoupling capacitor carries the op amp's load current: keep it out of the signal's ground.",
        ],
        source: "Op Amps for Everyone, 4th ed., appendix C; Zumbahlen, “Linear Circuit Design Handbook”, ch. 12 (from memory).",
    },
    Topic {
        title: "Capacitors that change, and that sing",
        facts: &[
            "Class 2 ceramics (X7R, X5R) lose capacitance with voltage, some of them more than half at their rated voltage, and with age; and \
             they are piezoelectric: a knock is a signal, and a signal is a sound.",
            "In filters and loops use class 1 (C0G, NP0) or film (polypropylene, polyphenylene sulphide). Class 2 is for decoupling.",
            "Heat the board with a warm finger and look at the notch: a shift of some per cent is the dielectric.",
        ],
        source: "IEC 60384-8 and 60384-9 for the classes; loss with voltage and sound: makers' notes on class 2 ceramics.",
    },
    Topic {
        title: "Where a difference amplifier is grounded",
        facts: &[
            "Its reference resistor goes to the ground of what it feeds, and its input pair to both ends of the sensor: never to the nearest ground.",
            "Any resistance in series with one of its four resistors counts as mismatch. With resistors of 1 % and a gain of 1 the common-mode \
             rejection may be as low as 34 dB.",
            "A sensor that is grounded at its own end, and again at the board, makes a loop in which the drive's current flows.",
        ],
        source: "Franco, “Design with Operational Amplifiers”, ch. 2: common-mode rejection (1 + gain)/(4·tolerance); grounding: common practice.",
    },
    Topic {
        title: "Whose oscillation it is",
        facts: &[
            "Open the loop. What stays is an op amp's, or comes from outside.",
            "An op amp's own is near its gain-bandwidth over its noise gain, far above the crossover; it moves when a finger or a probe touches the \
             pin, and goes with 50 Ω in series with the capacitive load.",
            "The loop's is near the crossover or on a mode. It goes with less gain, and its frequency does not move with the probe.",
            "A supply's line keeps its frequency whatever the loop's gain is.",
        ],
        source: "Franco, ch. 8, for op amps with capacitive loads; the rest common practice.",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    /// (1 + 1)/(4·0.01) is 50, 34 dB.
    #[test]
    fn the_rejection_that_is_told() {
        let rejection = (1.0 + 1.0) / (4.0 * 0.01f64);
        assert_eq!((20.0 * rejection.log10()).round(), 34.0);
        assert!(
            TOPICS
                .iter()
                .any(|t| t.facts.iter().any(|f| f.contains("34 dB")))
        );
    }

    #[test]
    fn every_topic_says_where_it_is_from() {
        for topic in TOPICS {
            assert!(topic.facts.len() >= 3 && topic.source.ends_with(['.', ')']));
        }
    }
}
