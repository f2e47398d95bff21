//! The pages: they say what the summary says, ask the network for nothing, and go when their trip goes.

use std::path::Path;

use waterseam_report::CAUTIONS;

use super::helpers::{contents, expect_status, process, sample_logs, stderr, stdout, waterseam};

/// Largest page of a trip that may be mailed, bytes.
const MOST_BYTES: usize = 1_500_000;

/// The sample logs with their pages in `pages`, beside the logbook `logbook`.
fn processed(dir: &Path) {
    let mut command = waterseam();
    command.arg("process").arg(sample_logs()).arg("--logbook").arg(dir.join("logbook"));
    expect_status(&command.arg("--report").arg(dir.join("pages")).output().unwrap(), 0);
}

/// What a page reads like in one unit system: words alone, single blanks.
fn words(page: &str, units: &str) -> String {
    let body = page.split_once("<body>").unwrap().1.split("<script").next().unwrap();
    let mut text = String::new();
    // what is in other units is not shown
    let mut rest = body;
    while let Some(at) = rest.find("class=\"in-") {
        let (before, after) = rest.split_at(at);
        let tag = before.rfind('<').unwrap();
        let name: String = before[tag + 1..].chars().take_while(char::is_ascii_alphanumeric).collect();
        text.push_str(&before[..tag]);
        let end = format!("</{name}>");
        let (part, remainder) = after.split_once(&end).unwrap();
        if part.starts_with(&format!("class=\"in-{units}")) {
            text.push_str(part.split_once('>').unwrap().1);
        }
        rest = remainder;
    }
    text.push_str(rest);
    let mut plain = String::new();
    for (n, piece) in text.split('<').enumerate() {
        plain.push_str(if n == 0 { piece } else { piece.split_once('>').map_or("", |(_, words)| words) });
        plain.push(' ');
    }
    let plain = plain.replace("&#39;", "'").replace("&quot;", "\"").replace("&gt;", ">").replace("&lt;", "<");
    single_blanks(&plain.replace("&amp;", "&"))
}

fn single_blanks(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pages(dir: &Path) -> Vec<(String, String)> {
    let files = contents(&dir.join("pages")).into_iter();
    files
        .map(|(path, bytes)| (path.to_string_lossy().into_owned(), String::from_utf8(bytes).unwrap()))
        .collect()
}

#[test]
fn a_page_and_the_summary_of_its_trip_say_the_same() {
    let dir = tempfile::tempdir().unwrap();
    processed(dir.path());
    let pages = pages(dir.path());
    let mut compared = 0;
    for units in ["imperial", "metric", "marine"] {
        // the same files again: nothing changes, and the summaries are printed anew
        let mut command = waterseam();
        command.args(["process", "--no-report", "--units", units]).arg(sample_logs());
        let output = command.arg("--logbook").arg(dir.path().join("logbook")).output().unwrap();
        expect_status(&output, 0);
        let (mut shown, mut section) = (String::new(), String::new());
        for line in stdout(&output).lines() {
            // the first line is the page's heading
            if let Some((_, id)) = line.split_once(", trip ").filter(|_| line.starts_with("Kittiwake")) {
                let name = format!("trip-{id}.html");
                shown = words(&pages.iter().find(|(file, _)| *file == name).unwrap().1, units);
                continue;
            }
            if let Some(label) = line.split(' ').next().filter(|label| !label.is_empty()) {
                section = label.to_owned();
            }
            // bites one by one stand in a table there, a column each
            if section == "Bites" && !line.starts_with("Bites") {
                continue;
            }
            let is_head = ["Clock", "Trolled"].contains(&section.as_str());
            let told = single_blanks(if is_head { line } else { line.get(9..).unwrap_or(line) });
            assert!(shown.contains(&told), "{units}: {told}\n{shown}");
            compared += 1;
        }
    }
    assert!(compared > 250, "{compared} lines");
}

#[test]
fn the_answers_of_the_sample_trips() {
    let dir = tempfile::tempdir().unwrap();
    processed(dir.path());
    let mut answers = String::new();
    for (name, page) in pages(dir.path()).into_iter().filter(|(name, _)| name.starts_with("trip-")) {
        let block = page.split_once("<dl>").unwrap().1.split_once("</dl>").unwrap().0;
        let told = block.split("</div>").map(|answer| words(&format!("<body>{answer}"), "imperial"));
        answers.extend(std::iter::once(name).chain(told).flat_map(|line| [line, "\n".to_owned()]));
    }
    insta::assert_snapshot!("answers", answers);
}

#[test]
fn a_page_stands_alone() {
    let dir = tempfile::tempdir().unwrap();
    processed(dir.path());
    let pages = pages(dir.path());
    let names: Vec<&str> = pages.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        [
            "index.html",
            "season-2026.html",
            "trip-20260503T081456Z.html",
            "trip-20260718T072244Z.html",
            "trip-20260822T075956Z.html"
        ]
    );
    for (name, page) in &pages {
        assert!(page.len() < MOST_BYTES, "{name}: {} bytes", page.len());
        for outward in ["http://", "https://", "src=", "@import", "url(", "fetch(", "<link"] {
            // the name of the format of drawings is an address that nobody asks
            let others = page.replace("http://www.w3.org/2000/svg", "");
            assert!(!others.contains(outward), "{name}: {outward}");
        }
        for link in page.split("href=\"").skip(1).map(|rest| rest.split('"').next().unwrap()) {
            assert!(link == "#main" || names.contains(&link), "{name}: {link}");
        }
        if name != "index.html" {
            let shown = words(page, "imperial");
            assert!(CAUTIONS.iter().all(|caution| shown.contains(&single_blanks(caution))), "{name}");
        }
    }
}

#[test]
fn pages_come_again_from_the_tables_and_go_with_their_trip() {
    let dir = tempfile::tempdir().unwrap();
    processed(dir.path());
    let first = contents(&dir.path().join("pages"));
    let again = |folder: &str| {
        let mut command = waterseam();
        command.args(["report", "--logbook"]).arg(dir.path().join("logbook"));
        command.arg("--out").arg(dir.path().join(folder)).output().unwrap()
    };
    expect_status(&again("again"), 0);
    assert!(first == contents(&dir.path().join("again")), "the same tables gave other pages");

    // a page that somebody else wrote stays, whatever its name
    std::fs::write(dir.path().join("pages/trip-mine.html"), "a letter").unwrap();
    let forget = waterseam()
        .args(["forget", "--trip", "20260822T075956Z", "--logbook"])
        .arg(dir.path().join("logbook"))
        .output();
    expect_status(&forget.unwrap(), 0);
    expect_status(&again("pages"), 0);
    let left: Vec<String> = pages(dir.path()).into_iter().map(|(name, _)| name).collect();
    assert!(left.contains(&"trip-mine.html".to_owned()), "{left:?}");
    assert!(!left.contains(&"trip-20260822T075956Z.html".to_owned()), "{left:?}");
}

#[test]
fn a_forgotten_trip_leaves_no_page() {
    let dir = tempfile::tempdir().unwrap();
    let (logbook, folder) = (dir.path().join("logbook"), dir.path().join("logbook-report"));
    let run = |words: &[&str], folders: &[(&str, &Path)]| {
        let mut command = waterseam();
        command.args(words);
        for (name, folder) in folders {
            command.arg(name).arg(folder);
        }
        let output = command.output().unwrap();
        expect_status(&output, 0);
        stderr(&output)
    };
    expect_status(
        &waterseam().arg("process").arg(sample_logs()).arg("--logbook").arg(&logbook).output().unwrap(),
        0,
    );
    run(&["hotspots"], &[("--logbook", &logbook)]);
    run(&["report"], &[("--logbook", &logbook), ("--out", &folder)]);
    assert!(folder.join("places-7-month.html").exists());
    std::fs::write(folder.join("season-of-mine.html"), "a letter").unwrap();

    let said = run(&["forget", "--trip", "20260822T075956Z"], &[("--logbook", &logbook)]);
    assert!(said.contains("its page in"), "{said}");
    run(&["report"], &[("--logbook", &logbook), ("--out", &dir.path().join("anew"))]);
    std::fs::write(dir.path().join("anew/season-of-mine.html"), "a letter").unwrap();
    let names = |folder: &Path| contents(folder).into_iter().map(|(path, _)| path).collect::<Vec<_>>();
    assert_eq!(names(&folder), names(&dir.path().join("anew")));
    assert!(contents(&folder) == contents(&dir.path().join("anew")), "pages are not those of the logbook");

    // the last ones take season and index with them
    run(&["forget", "--trip", "20260718T072244Z"], &[("--logbook", &logbook)]);
    run(&["forget", "--trip", "20260503T081456Z"], &[("--logbook", &logbook)]);
    assert_eq!(names(&folder), [Path::new("season-of-mine.html")]);
}

#[test]
fn a_folder_without_pages_stays_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let mut command = waterseam();
    command.args(["forget", "--trip", "20260822T075956Z", "--logbook"]).arg(&logbook);
    let output = command.output().unwrap();
    expect_status(&output, 0);
    assert!(stderr(&output).contains("holds no pages"), "{}", stderr(&output));
    assert!(!dir.path().join("logbook-report").exists());
}

#[test]
fn trips_are_safe_where_pages_cannot_be_written() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("pages"), "a file where the folder should be").unwrap();
    let mut command = waterseam();
    command.arg("process").arg(sample_logs()).arg("--logbook").arg(dir.path().join("logbook"));
    let output = command.arg("--report").arg(dir.path().join("pages")).output().unwrap();
    expect_status(&output, 1);
    assert!(stderr(&output).contains("the trips are in the logbook"), "{}", stderr(&output));
    let verify = waterseam().args(["verify", "--logbook"]).arg(dir.path().join("logbook")).output().unwrap();
    expect_status(&verify, 0);
    // and the next run without pages has nothing to add
    assert!(stderr(&process(&sample_logs(), &dir.path().join("logbook"))).contains("already in the logbook"));
}

#[test]
fn the_page_of_places_says_what_the_command_prints() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let printed = waterseam().args(["hotspots", "--logbook"]).arg(&logbook).output().unwrap();
    expect_status(&printed, 0);
    let mut command = waterseam();
    command.args(["report", "--logbook"]).arg(&logbook).arg("--out").arg(dir.path().join("pages"));
    expect_status(&command.output().unwrap(), 0);
    let pages = pages(dir.path());
    let page = &pages.iter().find(|(name, _)| name == "places-7-month.html").unwrap().1;
    assert!(pages.iter().any(|(name, index)| name == "index.html" && index.contains("places-7-month.html")));
    let shown = words(page, "imperial");
    let mut compared = 0;
    // the first line tells of the layer as a whole
    for line in stdout(&printed).lines().skip(2).filter(|line| line.len() > 9) {
        let told = line.get(9..).unwrap_or(line);
        // a month is a heading there
        let told = told.split_once(": ").filter(|(part, _)| ["May", "July", "August"].contains(part));
        let told = single_blanks(told.map_or(line.get(9..).unwrap_or(line), |(_, rest)| rest));
        assert!(shown.contains(&told), "{told}\n{shown}");
        compared += 1;
    }
    assert!(compared > 6, "{compared} lines");
}
