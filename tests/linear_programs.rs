//! The linear programs against an independent solver: optima recorded by `tests/oracle/make_fits.py` (SciPy, HiGHS).
//! Model against model: the definitions are shared, the solvers are not.

use bloomsalt::fit::{Column, FitError, Problem, Want, solve};
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::Limits;
use serde_json::Value;

fn nutrients(object: &Value) -> Nutrients {
    let mut read = Nutrients::default();
    for (key, value) in object.as_object().expect("an object") {
        let nutrient = Nutrient::parse(key).unwrap_or_else(|| panic!("{key}"));
        read[nutrient] = value.as_f64().expect("a number");
    }
    read
}

fn problem(case: &Value) -> Problem<'static> {
    let by_cost = case["last_is"] == "cost";
    Problem {
        columns: case["salts"]
            .as_array()
            .expect("salts")
            .iter()
            .map(|salt| Column {
                ppm_per_g_per_l: nutrients(&salt["brings"]),
                most_g_per_l: salt["upper_g_per_l"].as_f64(),
                cost_per_g: if by_cost { salt["cost_per_g"].as_f64().expect("priced") } else { 1.0 },
            })
            .collect(),
        water_ppm: nutrients(&case["water"]),
        wants: case["wishes"]
            .as_array()
            .expect("wishes")
            .iter()
            .map(|wish| Want {
                nutrient: Nutrient::parse(wish["nutrient"].as_str().expect("a name")).expect("known"),
                target_ppm: wish["target"].as_f64(),
                min_ppm: wish["min"].as_f64(),
                max_ppm: wish["max"].as_f64(),
                weight: wish["weight"].as_f64().expect("a weight"),
            })
            .collect(),
        ammonium_share: Limits { min: case["ammonium_share"]["min"].as_f64(), max: case["ammonium_share"]["max"].as_f64() },
        ec: None,
        ph: None,
        sparing: Vec::new(),
        waters: Vec::new(),
        near: None,
    }
}

fn near(ours: f64, theirs: f64, relative: f64, absolute: f64) -> bool {
    (ours - theirs).abs() <= relative * theirs.abs() + absolute
}

#[test]
fn recorded_optima_are_reached() {
    let recorded: Value = serde_json::from_str(include_str!("oracle/fits.json")).expect("valid JSON");
    let cases = recorded["cases"].as_array().expect("cases");
    assert!(cases.len() >= 500, "at least 500 benches");
    let (mut feasible, mut widest_gap) = (0, 0.0_f64);
    let mut wrong: Vec<String> = Vec::new();
    for case in cases {
        let id = &case["id"];
        let problem = problem(case);
        match solve(&problem) {
            Ok(solution) => {
                feasible += 1;
                widest_gap = widest_gap.max(solution.certificate_gap / (1.0 + solution.misfit));
                let theirs = |key: &str| case[key].as_f64();
                let Some(misfit) = theirs("misfit") else {
                    wrong.push(format!("case {id}: solved, but recorded as infeasible"));
                    continue;
                };
                let ours = [solution.misfit, solution.stages[1].value, solution.stages[2].value];
                // 1e-6 for the misfit as the issue asks; the later wishes hang on the slack of the earlier ones
                if !near(ours[0], misfit, 1e-6, 1e-6)
                    || !near(ours[1], theirs("unasked_meq_per_l").expect("recorded"), 1e-5, 1e-6)
                    || !near(ours[2], theirs("last").expect("recorded"), 1e-5, 1e-6)
                {
                    wrong.push(format!(
                        "case {id}: {ours:?} against {misfit} {} {}",
                        case["unasked_meq_per_l"], case["last"]
                    ));
                }
                for (salt, amount) in solution.g_per_l.iter().enumerate() {
                    if *amount > 0.0 && !problem.takes_part(salt) {
                        wrong.push(format!("case {id}: salt {salt} adds nothing that is asked for"));
                    }
                }
            }
            Err(FitError::Conflict(_)) if case["feasible"] == false => {}
            Err(error) => wrong.push(format!("case {id}: {error:?}, recorded feasible {}", case["feasible"])),
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
    assert!(feasible >= 500, "{feasible} feasible benches");
    assert!(widest_gap <= 1e-9, "every optimum is certified by its dual; widest gap {widest_gap:e}");
}

/// Every set named is minimal: it contradicts, and without any one of its limits the rest holds. What is on hand is not named where
/// the limits of the formula contradict without it.
#[test]
fn conflicts_are_minimal() {
    use bloomsalt::fit::Limit;
    let recorded: Value = serde_json::from_str(include_str!("oracle/fits.json")).expect("valid JSON");
    let (mut seen, mut of_the_formula) = (0, 0);
    for case in recorded["cases"].as_array().expect("cases").iter().filter(|case| case["feasible"] == false) {
        let Err(FitError::Conflict(conflict)) = solve(&problem(case)) else { panic!("case {}", case["id"]) };
        assert!(!conflict.limits.is_empty(), "case {}", case["id"]);
        let keep_only = |kept: &dyn Fn(Limit) -> bool| {
            let mut problem = problem(case);
            for want in &mut problem.wants {
                want.min_ppm = want.min_ppm.filter(|_| kept(Limit::AtLeast(want.nutrient)));
                want.max_ppm = want.max_ppm.filter(|_| kept(Limit::AtMost(want.nutrient)));
            }
            problem.ammonium_share.min = problem.ammonium_share.min.filter(|_| kept(Limit::ShareAtLeast));
            problem.ammonium_share.max = problem.ammonium_share.max.filter(|_| kept(Limit::ShareAtMost));
            for (at, column) in problem.columns.iter_mut().enumerate() {
                column.most_g_per_l = column.most_g_per_l.filter(|_| kept(Limit::OnHand(at)));
            }
            solve(&problem)
        };
        assert!(
            matches!(keep_only(&|limit| conflict.limits.contains(&limit)), Err(FitError::Conflict(_))),
            "case {}",
            case["id"]
        );
        for dropped in &conflict.limits {
            let rest = keep_only(&|limit| limit != *dropped && conflict.limits.contains(&limit));
            assert!(!matches!(rest, Err(FitError::Conflict(_))), "case {}: {dropped:?} is not needed", case["id"]);
        }
        seen += 1;
        let on_hand = |limit: &Limit| matches!(limit, Limit::OnHand(_));
        if matches!(keep_only(&|limit| !on_hand(&limit)), Err(FitError::Conflict(_))) {
            assert!(!conflict.limits.iter().any(on_hand), "case {}: {conflict:?}", case["id"]);
            of_the_formula += 1;
        }
    }
    assert!(seen >= 30 && of_the_formula >= 10, "{seen} conflicts, {of_the_formula} without what is on hand");
}
