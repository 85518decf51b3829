//! Counting literals by clauses.

use super::clauses::Clauses;
use batsat::Lit;

/// Adds literals that count others: the one at `k` is true where more than `k` of the given ones are.
///
/// Only that direction is said (many true inputs force outputs), which is what upper bounds need. The clauses grow
/// with the square of the number of literals.
pub(super) fn counted(clauses: &mut Clauses, literals: &[Lit], most: usize) -> Vec<Lit> {
    match literals {
        [] => Vec::new(),
        [one] => vec![*one],
        _ => {
            let (left, right) = literals.split_at(literals.len() / 2);
            let (left, right) = (counted(clauses, left, most), counted(clauses, right, most));
            let outputs: Vec<Lit> =
                (0..(left.len() + right.len()).min(most)).map(|_| clauses.literal()).collect();
            for i in 0..=left.len() {
                for j in 0..=right.len() {
                    let Some(sum) = (i + j).checked_sub(1).filter(|sum| *sum < outputs.len()) else {
                        continue;
                    };
                    let mut clause = vec![outputs[sum]];
                    clause.extend(i.checked_sub(1).map(|i| !left[i]));
                    clause.extend(j.checked_sub(1).map(|j| !right[j]));
                    clauses.add(&clause);
                }
            }
            outputs
        }
    }
}
