//! Too few pins, found by counting: required lines that together reach fewer pins than they are, whatever is given up
//! of what bars pins. No search is needed to see that, and none of the size that it would take.

use crate::choice::choices;
use crate::problem::Problem;

/// Required lines that reach fewer pins than they are, few of them; `None` where each finds a pin of its own.
pub(super) fn shortage(problem: &Problem) -> Option<Vec<usize>> {
    let lines: Vec<usize> = (0..problem.lines.len()).filter(|line| problem.lines[*line].required).collect();
    let mut reach: Vec<Vec<usize>> = Vec::with_capacity(lines.len());
    for line in &lines {
        let mut pins: Vec<usize> = choices(problem, *line, true).iter().map(|choice| choice.pin).collect();
        pins.dedup();
        reach.push(pins);
    }
    let mut holder: Vec<Option<usize>> = vec![None; problem.pins.len()];
    for line in 0..lines.len() {
        let mut met = vec![false; problem.pins.len()];
        let mut asked = Vec::new();
        if !serve(line, &reach, &mut holder, &mut met, &mut asked) {
            // All that were asked hold the pins that they reach: one line more than pins.
            return Some(asked.into_iter().map(|at| lines[at]).collect());
        }
    }
    None
}

/// Finds a pin for a line; others move on where they can.
fn serve(
    line: usize,
    reach: &[Vec<usize>],
    holder: &mut [Option<usize>],
    met: &mut [bool],
    asked: &mut Vec<usize>,
) -> bool {
    asked.push(line);
    for pin in &reach[line] {
        if std::mem::replace(&mut met[*pin], true) {
            continue;
        }
        if holder[*pin].is_none_or(|other| serve(other, reach, holder, met, asked)) {
            holder[*pin] = Some(line);
            return true;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::shortage;
    use crate::problem::{Ability, Line, Need, Pin, Problem};

    fn problem(pins: usize, lines: usize) -> Problem {
        let pin = || Pin { abilities: vec![Ability::Read], ..Pin::default() };
        let line = || Line {
            name: "line".into(),
            need: Need::Read,
            required: true,
            unfit: Vec::new(),
            unsafe_at: Vec::new(),
            was: None,
            kept: false,
        };
        Problem {
            ports: vec!["J1".into()],
            pins: std::iter::repeat_with(pin).take(pins).collect(),
            lines: std::iter::repeat_with(line).take(lines).collect(),
            ..Problem::default()
        }
    }

    #[test]
    fn one_line_more_than_pins_is_a_shortage() {
        assert_eq!(shortage(&problem(4, 4)), None);
        assert_eq!(shortage(&problem(4, 5)).map(|lines| lines.len()), Some(5));
        assert_eq!(shortage(&problem(4, 900)).map(|lines| lines.len()), Some(5));
    }

    /// Lines that others do not stand in the way of are not named.
    #[test]
    fn only_lines_that_compete_are_named() {
        let mut task = problem(6, 6);
        for (at, pin) in task.pins.iter_mut().enumerate() {
            pin.abilities = vec![if at < 2 { Ability::Measure(0) } else { Ability::Read }];
        }
        for line in &mut task.lines[3..] {
            line.need = Need::Measure;
        }
        let mut named = shortage(&task).expect("three on two pins");
        named.sort_unstable();
        assert_eq!(named, [3, 4, 5]);
    }

    /// An optional line takes no part, and a bar could be lifted.
    #[test]
    fn what_could_be_given_up_is_no_shortage() {
        let mut task = problem(4, 5);
        task.lines[2].required = false;
        task.pins[1].reserved = true;
        assert_eq!(shortage(&task), None);
    }
}
