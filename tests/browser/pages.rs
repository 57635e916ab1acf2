//! The pages as a whole: at every width, for everybody, whatever names they show.

use std::fs;

use crate::chart::bars_are_at_their_time;
use crate::devtools::Browser;
use crate::{SCENARIOS, number, planned, scenario, written};

#[test]
fn every_scenarios_pages_open_at_every_width_without_complaint() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let plan = planned(&scenario);
        let (_above, out) = written(&scenario, &plan);
        for page in ["report.html", "day-sheets.html"] {
            browser.open(&out.join(page));
            for width in [390, 820, 1440] {
                browser.width(width);
                let wide = browser.ask("document.documentElement.scrollWidth");
                assert!(
                    number(&wide) <= f64::from(width),
                    "{name} {page} is {wide} px wide at {width}"
                );
            }
        }
        assert_eq!(browser.complaints, Vec::<String>::new(), "{name}");
        browser.open(&out.join("report.html"));
        bars_are_at_their_time(&mut browser, &out, name);
    }
}

#[test]
fn what_looks_like_a_script_stays_text() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    // Names of parts take no such signs in a scenario; whatever takes plans from elsewhere may be less strict.
    let nasty = "<script>alert(1)</script><img src=x onerror=alert(2)>";
    let scenario = scenario("first-week", |text| {
        text.replace("name: Harbour lantern", &format!("name: '{nasty}'"))
            .replace("    loaded: white", &format!("    offline: [{{from: 2027-05-05, to: 2027-05-06, why: '{nasty}'}}]\n    loaded: white"))
    });
    let mut scenario = scenario;
    let plan = planned(&scenario);
    for part in &mut scenario.parts {
        part.id = nasty.into();
    }
    let (_above, out) = written(&scenario, &plan);
    browser.width(1440);
    for page in ["report.html", "day-sheets.html"] {
        browser.open(&out.join(page));
        assert_eq!(
            browser
                .ask("document.title")
                .as_str()
                .map(|title| title.starts_with(nasty)),
            Some(true)
        );
        assert_eq!(browser.ask("document.querySelectorAll('img').length"), 0);
        let shown =
            browser.ask("document.body.textContent.includes('<script>alert(1)</script><img')");
        assert_eq!(shown, true, "{page}");
    }
    assert_eq!(browser.complaints, Vec::<String>::new());
}

#[test]
fn no_serious_finding_of_the_accessibility_check() {
    let Ok(path) = std::env::var("AXE_CORE") else {
        eprintln!("skipped: name axe-core's axe.min.js in AXE_CORE");
        return;
    };
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let axe = fs::read_to_string(path).expect("axe-core can be read");
    for name in SCENARIOS {
        let scenario = scenario(name, |text| text);
        let (_above, out) = written(&scenario, &planned(&scenario));
        for (page, scheme, width) in [
            ("report.html", "light", 1440),
            ("report.html", "dark", 390),
            ("day-sheets.html", "light", 390),
            ("day-sheets.html", "dark", 1440),
        ] {
            let features = serde_json::json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
            browser.call("Emulation.setEmulatedMedia", features);
            browser.width(width);
            browser.open(&out.join(page));
            // All of it laid out at once: what is laid out only when it comes near moves while the check looks for what is behind it.
            browser.ask("document.head.insertAdjacentHTML('beforeend', '<style>* { content-visibility: visible !important }</style>')");
            browser.ask(&format!("{axe}; true"));
            let found = browser.ask(
                "axe.run(document, {resultTypes: ['violations']}).then(result => result.violations
                    .filter(one => one.impact === 'serious' || one.impact === 'critical')
                    .map(one => one.id + ': ' + one.nodes.slice(0, 3).map(node => node.target.join(' ') + ' (' + node.any.map(check => check.message).join('; ') + ')').join(' | ')))",
            );
            assert_eq!(
                found.as_array().map(Vec::len),
                Some(0),
                "{name} {page} {scheme}: {found:#}"
            );
        }
    }
}
