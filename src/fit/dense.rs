//! Small dense linear systems of any rank.
//!
//! Two eliminations beside this one are for other questions and stay apart: our own simplex inverts a basis that is regular or
//! an error, and `solution` solves Newton's square systems in its innermost loop, row pivots alone, in place. Neither looks for a rank, which
//! is why this one pivots over rows and columns, at a cost that theirs must not have; and the last bits of both follow from
//! their order of steps, so that one function for all would change what is printed.

/// A coefficient below this after elimination is rounding; the systems are scaled to coefficients near 1.
const PIVOT: f64 = 1e-7;

/// Rank and a solution of `matrix x = right` by elimination with full pivoting: dependent rows are passed over, and
/// unknowns that no row determines are 0.
pub(super) fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>, unknowns: usize) -> (usize, Vec<f64>) {
    let mut order: Vec<usize> = (0..unknowns).collect();
    let mut rank = 0;
    while rank < matrix.len().min(unknowns) {
        let mut best = (0.0_f64, rank, rank);
        for (row, values) in matrix.iter().enumerate().skip(rank) {
            for (at, &column) in order.iter().enumerate().skip(rank) {
                if values[column].abs() > best.0 {
                    best = (values[column].abs(), row, at);
                }
            }
        }
        let (size, row, at) = best;
        if size <= PIVOT {
            break;
        }
        matrix.swap(rank, row);
        right.swap(rank, row);
        order.swap(rank, at);
        let column = order[rank];
        for other in rank + 1..matrix.len() {
            let factor = matrix[other][column] / matrix[rank][column];
            if factor != 0.0 {
                let (above, below) = matrix.split_at_mut(other);
                for &column in &order[rank..] {
                    below[0][column] -= factor * above[rank][column];
                }
                right[other] -= factor * right[rank];
            }
        }
        rank += 1;
    }
    let mut solution = vec![0.0; unknowns];
    for row in (0..rank).rev() {
        let known: f64 = order[row + 1..rank].iter().map(|&column| matrix[row][column] * solution[column]).sum();
        solution[order[row]] = (right[row] - known) / matrix[row][order[row]];
    }
    (rank, solution)
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::solve;

    #[test]
    fn square_dependent_and_free() {
        let (rank, x) = solve(vec![vec![0.0, 2.0], vec![1.0, 1.0], vec![1.0, 3.0]], vec![4.0, 3.0, 7.0], 2);
        assert_eq!(rank, 2);
        assert_relative_eq!(x[0], 1.0, epsilon = 1e-12);
        assert_relative_eq!(x[1], 2.0, epsilon = 1e-12);
        let (rank, x) = solve(vec![vec![1.0, 0.0, 2.0]], vec![4.0], 3);
        assert_eq!(rank, 1);
        assert_relative_eq!(x[0] + 2.0 * x[2], 4.0, epsilon = 1e-12);
        assert_eq!(solve(Vec::new(), Vec::new(), 0).0, 0);
    }
}
