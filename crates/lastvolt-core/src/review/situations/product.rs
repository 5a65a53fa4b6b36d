//! Combinations of choices by their places: all of them, or those nearest to the usual one.

/// All combinations of choices, the last axis fastest.
pub(super) fn product(lengths: &[usize]) -> Vec<Vec<usize>> {
    let mut out = vec![Vec::with_capacity(lengths.len())];
    for length in lengths {
        let longer = |base: &Vec<usize>, choice| {
            let mut next = base.clone();
            next.push(choice);
            next
        };
        out = out
            .iter()
            .flat_map(|base| (0..*length).map(|choice| longer(base, choice)))
            .collect();
    }
    out
}

/// The usual combination, then those that differ from it on one axis, then on two, as many as allowed.
pub(super) fn few(lengths: &[usize], most: usize) -> Vec<Vec<usize>> {
    let usual = vec![0; lengths.len()];
    let mut out = vec![usual.clone()];
    for (axis, length) in lengths.iter().enumerate() {
        for choice in 1..*length {
            let mut one = usual.clone();
            one[axis] = choice;
            out.push(one);
        }
    }
    let singles = out.len();
    for first in 1..singles {
        for second in first + 1..singles {
            let (a, b) = (out[first].clone(), &out[second]);
            let both: Vec<usize> = a.iter().zip(b).map(|(a, b)| a.max(b)).copied().collect();
            let differ = both.iter().filter(|c| 0 < **c).count();
            if differ == 2 && out.len() < most {
                out.push(both);
            }
        }
    }
    out
}
