//! The program run in process, as it is typed.

use bloomsalt::cli::{Console, run};

/// Exit status, standard output, standard error.
pub fn bloomsalt(arguments: &[&str]) -> (u8, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let all = std::iter::once("bloomsalt").chain(arguments.iter().copied());
    let status = run(all, &mut out, &mut err, Console::default());
    (status, String::from_utf8(out).expect("UTF-8"), String::from_utf8(err).expect("UTF-8"))
}

/// Standard output of a run that succeeds and has nothing to complain of.
pub fn done(arguments: &[&str]) -> String {
    let (status, out, err) = bloomsalt(arguments);
    assert_eq!((status, err.as_str()), (0, ""), "{arguments:?}");
    out
}
