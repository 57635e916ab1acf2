//! The pages and drawings of a plan: what stands in them, and that what a user wrote stays text.

use beamyard::plan::{Day, Job, SpareWork, Task, Work};
use beamyard::report::{day_sheets, files, html};
use beamyard::scenario::Scenario;

use crate::demo;

/// A text without what stands from one word to the next other one, wherever that is.
fn without(text: &str, from: &str, to: &str) -> String {
    let mut parts = text.split(from);
    let mut rest = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        rest.push_str(part.split_once(to).map_or("", |(_, after)| after));
    }
    rest
}

/// A page without its style, script, ruler and strips for paper; a line for each element that begins a block.
fn bare(page: &str) -> String {
    let mut rest = page.to_owned();
    for (from, to) in [
        ("<style>", "</style>"),
        ("<script>", "</script>"),
        ("<div class=\"strips\"", "</section>"),
        ("<rect class=\"lamp\"", "</rect>"),
        ("<line class=\"midnight\"", "</line>"),
        ("<line class=\"hour\"", "</line>"),
        ("<span class=\"hour\"", "</span>"),
        ("<div class=\"date\"", "</div>"),
    ] {
        rest = without(&rest, from, to);
    }
    let blocks = [
        "<section",
        "<li",
        "<tr",
        "<h2",
        "<h3",
        "<p",
        "<svg",
        "<figure",
        "<a class=\"run\"",
        "<rect",
        "<text",
        "</svg>",
    ];
    let mut lines = rest;
    for block in blocks {
        lines = lines.replace(block, &format!("\n{block}"));
    }
    lines
}

#[test]
fn the_report_has_every_section() {
    let scenario = demo::scenario();
    let page = html(&scenario, &demo::plan(&scenario));
    for id in [
        "weeks", "queue", "trials", "plates", "long", "graph", "filament", "costs", "masses",
    ] {
        assert!(page.contains(&format!("<section id=\"{id}\"")), "{id}");
    }
    insta::assert_snapshot!(bare(&page));
}

#[test]
fn the_mark_of_a_spool_that_ends_alone_does_not_hide_its_sign() {
    let scenario = demo::scenario();
    let page = html(&scenario, &demo::plan(&scenario));
    // What stands in a shape is not drawn.
    assert!(page.contains("</path><text class=\"bang\""));
    assert!(!page.contains("L0 14Z\"><text"));
}

#[test]
fn a_stage_that_is_due_beyond_the_chart_says_when() {
    let mut scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    let says = |scenario: &Scenario| html(scenario, &plan).replace('\u{a0}', " ");
    assert!(!says(&scenario).contains(" →</text>"));
    scenario.assemblies[demo::TOWER.0].due = Some(demo::at("2027-06-07 17:00"));
    assert!(says(&scenario).contains(", due Mon 7 Jun →</text>"));
}

#[test]
fn a_plan_of_days_without_a_monday_bears_a_date() {
    let mut scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    // Tuesday to Thursday.
    scenario.build.start = demo::at("2027-01-12 07:00");
    plan.runs.retain(|run| {
        run.start >= demo::at("2027-01-12 00:00") && run.end < demo::at("2027-01-15 00:00")
    });
    plan.finish = demo::at("2027-01-14 12:00");
    assert!(!plan.runs.is_empty());
    let page = html(&scenario, &plan).replace('\u{a0}', " ");
    let weeks: Vec<&str> = page.split("<div class=\"week\"").skip(1).collect();
    assert_eq!(weeks.len(), 1);
    assert!(weeks[0].contains("<b>Tue 12 Jan</b></div>"));
}

#[test]
fn a_long_name_in_the_build_graph_has_two_lines_and_is_whole_beside() {
    let mut scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    scenario.assemblies[demo::TOWER.0].id = "Oberbau_und_Geländer".into();
    let page = html(&scenario, &plan);
    let lines = "<tspan x=\"12\">Oberbau_und_</tspan><tspan x=\"12\" dy=\"17\">Geländer</tspan>";
    assert!(page.contains(&format!("<title>Oberbau_und_Geländer</title>{lines}")));
    assert!(page.contains("<th scope=\"row\">Oberbau_und_Geländer</th>"));
}

#[test]
fn the_report_says_what_is_to_be_approved_and_when() {
    let scenario = demo::scenario();
    let page = html(&scenario, &demo::plan(&scenario)).replace('\u{a0}', " ");
    assert!(page.contains("<a href=\"#trials\">To approve</a>"));
    let (_, section) = page
        .split_once("<section id=\"trials\"")
        .expect("the section");
    let section = section.split_once("</section>").expect("its end").0;
    assert!(
        section.contains(
            "<b>3× cap</b> from <b>Mon 11 Jan 17:30</b>, printed on <a href=\"#q0\">tall-001</a>"
        ),
        "{section}"
    );
    // Without trials there is neither.
    let mut plan = demo::plan(&scenario);
    plan.trials.clear();
    assert!(!html(&scenario, &plan).contains("trials"));
}

#[test]
fn a_day_with_nothing_for_the_bench_shares_its_sheet() {
    // The fourth day's work is taken away but what happens by itself; the last one has no more than an assembly that is complete.
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let days = &mut plan.sheets.days;
    let complete = Task {
        from: demo::at("2027-01-23 02:00"),
        to: demo::at("2027-01-23 02:00"),
        what: Job::Complete(0),
    };
    days[3].tasks = vec![Task {
        from: demo::at("2027-01-12 04:00"),
        to: demo::at("2027-01-12 04:00"),
        what: Job::Follows(0),
    }];
    days.push(Day {
        date: demo::at("2027-01-23 02:00").date_naive(),
        tasks: vec![complete],
    });
    let worked = |tasks: &[Task]| {
        let done = |task: &Task| !matches!(task.what, Job::Follows(_) | Job::Complete(_));
        tasks.iter().any(done)
    };
    let with_work = days.iter().filter(|day| worked(&day.tasks)).count();
    let only_orders = |tasks: &[Task]| {
        let order = |task: &Task| matches!(task.what, Job::Order(_));
        tasks.iter().all(order)
    };
    let ordering = days.iter().filter(|day| only_orders(&day.tasks)).count();
    let all = days.len();
    let page = day_sheets(&scenario, &plan).replace('\u{a0}', " ");
    let brief = page.matches("class=\"sheet brief shares\"").count();
    let shared = brief + page.matches("class=\"sheet shares\"").count();
    // Of those that share, only the last day with work has more than a few lines, on a screen too.
    assert_eq!(shared - brief, 1);
    // The fourth and days with orders share the next one's, and the last day with work is followed by the last on its sheet.
    assert_eq!(shared, 1 + ordering + 1);
    assert_eq!(page.matches("class=\"sheet\"").count(), all - shared - 1);
    let last = page.rfind("class=\"sheet").expect("a sheet");
    assert!(page[last..].starts_with("class=\"sheet brief\" aria-labelledby=\"d2027-01-23\""));
    assert!(
        page.contains(&format!("<p>{with_work} days with work")),
        "{with_work}"
    );
}

#[test]
fn the_day_sheets_and_kitting_lists_of_a_plan() {
    let scenario = demo::scenario();
    insta::assert_snapshot!(bare(&day_sheets(&scenario, &demo::plan(&scenario))));
}

#[test]
fn work_that_was_interrupted_says_that_it_goes_on() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    let work = |from: &str, to: &str| Work {
        from: demo::at(from),
        to: demo::at(to),
    };
    // Of six minutes two are before the bench closes, four on the next day; the spares have three turns.
    plan.gluings[0].work = vec![
        work("2027-01-12 22:28", "2027-01-12 22:30"),
        work("2027-01-13 07:00", "2027-01-13 07:04"),
    ];
    plan.spare_work = vec![SpareWork {
        part: plan.gluings[0].part,
        work: vec![
            work("2027-01-14 22:00", "2027-01-14 22:30"),
            work("2027-01-15 07:00", "2027-01-15 08:30"),
            work("2027-01-15 17:30", "2027-01-15 17:45"),
        ],
    }];
    plan.sheets = beamyard::planning::sheets(&scenario, &demo::routes(&scenario), &plan);
    // A date is tied to its time.
    let page = day_sheets(&scenario, &plan).replace('\u{a0}', " ");
    for words in [
        "<b>Glue</b> jib-chord 1 with steel-rod until 22:30; it goes on Wed 07:00<",
        "<b>Go on with gluing</b> jib-chord 1 with steel-rod until 07:04, cured ",
        "<b>Deburr spares</b> of jib-chord until 22:30; it goes on Fri 07:00<",
        "<b>Go on with the spares</b> of jib-chord until 08:30; it goes on 17:30<",
        "<b>Go on with the spares</b> of jib-chord until 17:45<",
    ] {
        assert!(page.contains(words), "{words}\n{}", bare(&page));
    }
}

#[test]
fn a_plate_is_drawn_in_millimetres() {
    let scenario = demo::scenario();
    let files = files(&scenario, &demo::plan(&scenario), &demo::issue());
    let plates: Vec<&(String, String)> = files
        .iter()
        .filter(|(name, _)| name.starts_with("plates/"))
        .collect();
    assert_eq!(plates.len(), demo::plan(&scenario).runs.len());
    insta::assert_snapshot!(plates[0].1);
}

#[test]
fn nothing_that_a_user_wrote_is_taken_for_markup() {
    let mut scenario = demo::scenario();
    let nasty = "<script>alert(1)</script>\"'&";
    scenario.build.name = nasty.into();
    scenario.currency = "<b>".into();
    for machine in &mut scenario.machines {
        machine.id = nasty.into();
        for span in &mut machine.offline {
            span.why = nasty.into();
        }
    }
    for part in &mut scenario.parts {
        part.id = nasty.into();
    }
    for filament in &mut scenario.filaments {
        filament.id = nasty.into();
        filament.material = nasty.into();
    }
    for assembly in &mut scenario.assemblies {
        assembly.id = nasty.into();
    }
    for joint in &mut scenario.joints {
        joint.id = nasty.into();
        if let Some(hardware) = &mut joint.hardware {
            hardware.item = nasty.into();
        }
    }
    let mut plan = demo::plan(&scenario);
    for run in &mut plan.runs {
        run.id = nasty.into();
    }
    for used in &mut plan.routes {
        used.why = nasty.into();
    }
    plan.cautions = vec![nasty.into()];
    for (name, text) in files(&scenario, &plan, &demo::issue()) {
        if name.ends_with(".html") || name.ends_with(".svg") {
            assert!(!text.contains("<script>alert"), "{name}");
            assert!(
                text.contains("&lt;script&gt;alert(1)&lt;/script&gt;"),
                "{name}"
            );
        }
    }
}

#[test]
fn nothing_is_loaded_from_anywhere() {
    let scenario = demo::scenario();
    let plan = demo::plan(&scenario);
    for page in [html(&scenario, &plan), day_sheets(&scenario, &plan)] {
        let rest = page.replace("http://www.w3.org/2000/svg", "");
        for loads in [
            "http://", "https://", "src=", "@import", "url(\"", "url(h", "//cdn",
        ] {
            assert!(!rest.contains(loads), "{loads}");
        }
    }
}

#[test]
fn names_of_plates_differ_where_capitals_do_not_count() {
    let scenario = demo::scenario();
    let mut plan = demo::plan(&scenario);
    plan.runs[0].id = "Tall-001".into();
    plan.runs[1].id = "tall-001".into();
    let mut names: Vec<String> = files(&scenario, &plan, &demo::issue())
        .into_iter()
        .map(|(name, _)| name.to_lowercase())
        .collect();
    let all = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), all);
}
