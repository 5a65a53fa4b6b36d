//! Sobol' points: a sequence that fills the unit cube more evenly than chance does.
//!
//! # References
//! I. M. Sobol', "On the distribution of points in a cube and the approximate evaluation of integrals",
//! USSR Comput. Math. Math. Phys. 7 (1967); S. Joe and F. Y. Kuo, "Constructing Sobol sequences with
//! better two-dimensional projections", SIAM J. Sci. Comput. 30 (2008), whose primitive polynomials and
//! initial numbers these are; order of the points after I. A. Antonov and V. M. Saleev, USSR Comput.
//! Math. Math. Phys. 19 (1979).

/// Primitive polynomial of each dimension after the first, its coefficients as bits, and the initial
/// numbers (Joe and Kuo 2008, file new-joe-kuo-6.21201, dimensions 2 to 10).
const DIRECTIONS: [(u32, &[u32]); 9] = [
    (0b11, &[1]),
    (0b111, &[1, 3]),
    (0b1011, &[1, 3, 1]),
    (0b1101, &[1, 1, 1]),
    (0b1_0011, &[1, 1, 3, 3]),
    (0b1_1001, &[1, 3, 5, 13]),
    (0b10_0101, &[1, 1, 5, 5, 17]),
    (0b10_1001, &[1, 1, 5, 5, 5]),
    (0b10_1111, &[1, 1, 7, 11, 19]),
];

/// Most dimensions that there are.
pub const MOST_DIMENSIONS: usize = DIRECTIONS.len() + 1;

/// Bits of each number.
const BITS: usize = 32;

/// The first points of the sequence, from the origin on; `None` in more dimensions than are known.
#[must_use]
pub fn sobol(dimensions: usize, count: usize) -> Option<Vec<Vec<f64>>> {
    if MOST_DIMENSIONS < dimensions {
        return None;
    }
    let directions: Vec<[u32; BITS]> = (0..dimensions).map(directions).collect();
    let mut at = vec![0_u32; dimensions];
    let mut points = Vec::with_capacity(count);
    for k in 0..count {
        points.push(at.iter().map(|&x| share(x)).collect());
        let bit = k.trailing_ones() as usize;
        for (x, own) in at.iter_mut().zip(&directions) {
            *x ^= own[bit];
        }
    }
    Some(points)
}

/// A number of all its bits as a share of one.
fn share(bits: u32) -> f64 {
    f64::from(bits) / 4_294_967_296.0
}

/// The direction numbers of a dimension, the first bit foremost.
fn directions(dimension: usize) -> [u32; BITS] {
    let mut out = [0; BITS];
    let Some((polynomial, first)) = dimension.checked_sub(1).map(|k| DIRECTIONS[k]) else {
        for (k, direction) in out.iter_mut().enumerate() {
            *direction = 1 << (BITS - 1 - k);
        }
        return out;
    };
    let degree = first.len();
    for k in 0..BITS {
        out[k] = if k < degree {
            first[k] << (BITS - 1 - k)
        } else {
            let mut next = out[k - degree] ^ (out[k - degree] >> degree);
            for back in 1..degree {
                if polynomial >> (degree - back) & 1 == 1 {
                    next ^= out[k - back];
                }
            }
            next
        };
    }
    out
}
