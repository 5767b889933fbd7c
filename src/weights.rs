//! Atomic weights of `salts/elements.toml` for the constants that rest on them, read while the crate is compiled.

const TABLE: &[u8] = include_bytes!("../salts/elements.toml");

/// The atomic weight of `symbol`, g/mol. A symbol that the table does not hold stops the build of a constant.
pub(crate) const fn weight(symbol: &str) -> f64 {
    let symbol = symbol.as_bytes();
    let mut line = 0;
    while line < TABLE.len() {
        let mut at = 0;
        while at < symbol.len() && TABLE[line + at] == symbol[at] {
            at += 1;
        }
        if at == symbol.len() && TABLE[line + at] == b' ' {
            return number(line + at + " = ".len());
        }
        while TABLE[line] != b'\n' {
            line += 1;
        }
        line += 1;
    }
    panic!("salts/elements.toml does not hold this element")
}

/// The decimal number that stands at `at`. Its digits and the power of ten are whole numbers that `f64` holds, so their
/// quotient is the nearest `f64`, as the parser of the table reads it.
const fn number(mut at: usize) -> f64 {
    let (mut digits, mut scale, mut decimals) = (0.0, 1.0, false);
    while TABLE[at] != b'\n' {
        if TABLE[at] == b'.' {
            decimals = true;
        } else {
            assert!(TABLE[at].is_ascii_digit(), "a weight in salts/elements.toml is no plain decimal number");
            digits = 10.0 * digits + (TABLE[at] - b'0') as f64;
            if decimals {
                scale *= 10.0;
            }
        }
        at += 1;
    }
    digits / scale
}

#[cfg(test)]
mod tests {
    use super::weight;
    use crate::catalogue::Catalogue;

    #[test]
    fn constants_are_those_of_the_table() {
        for (symbol, listed) in Catalogue::standard().elements().iter() {
            assert_eq!(weight(symbol).to_bits(), listed.to_bits(), "{symbol}");
        }
    }
}
