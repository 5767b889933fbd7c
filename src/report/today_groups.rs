//! What the plan asks of a group today, in words.

use crate::jobs::{GroupEvent, GroupNext, TodayGroup};

/// What a group asks for today.
pub(super) fn group_now(group: &TodayGroup) -> Vec<String> {
    let name = &group.name;
    let dry = match &group.keep_dry_for[..] {
        [] => String::new(),
        each => format!(", and keep it dry for stigmas of {}", each.join(", ")),
    };
    let pollen = group.collect_pollen_until.map(|until| format!("collect pollen of {name}, until {until}{dry}"));
    let stigmas = group.stigmas_open_until.map(|until| {
        let each = group.crosses.iter();
        let each: Vec<String> = each
            .map(|cross| {
                let pollen_of = if cross.pollen_of == group.id { "its own" } else { cross.pollen_of.as_str() };
                format!("{} pollen of {pollen_of}", if cross.fresh { "fresh" } else { "dry" })
            })
            .collect();
        let with = if each.is_empty() { "no pollen is good".to_owned() } else { each.join(", ") };
        format!("stigmas of {name} are open until {until}: {with}")
    });
    let ripe: Vec<&str> = group.ripens.iter().map(|ripens| ripens.pollen_of.as_str()).collect();
    let ripe = (!ripe.is_empty()).then(|| format!("seed of {name} ripens, by pollen of {}", ripe.join(", ")));
    [pollen, stigmas, ripe].into_iter().flatten().collect()
}

pub(super) fn group_words(group: &TodayGroup) -> String {
    let mut all = group_now(group);
    let kept = group.dry_pollen_good_until.filter(|_| group.collect_pollen_until.is_none());
    all.extend(kept.map(|until| format!("its dry pollen is good until {until}")));
    all.extend(group.next.map(next_words));
    if all.is_empty() { "nothing more by the plan".to_owned() } else { all.join("; ") }
}

fn next_words(next: GroupNext) -> String {
    let what = match next.what {
        GroupEvent::Push => "the push begins",
        GroupEvent::Opens => "flowers open",
        GroupEvent::Pollen => "pollen can be collected",
        GroupEvent::Stigmas => "stigmas are open",
        GroupEvent::Ripe => "seed ripens",
    };
    format!("next, {what} {}, {}", when(next.days_left), next.on)
}

/// When, from today.
pub(super) fn when(days_left: i32) -> String {
    match days_left {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "since yesterday".to_owned(),
        days if days < 0 => format!("{} days overdue", -days),
        days => format!("in {days} days"),
    }
}
