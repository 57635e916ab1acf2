//! Tables that read well on a terminal and in Markdown, and the numbers in them.
//!
//! Knows: text. Must not know: what the numbers mean.
//! Promises: every row has as many cells as there are headings; all but the first column stand to the right.

/// A table in Markdown with its columns lined up.
pub fn table<const N: usize>(headings: [&str; N], rows: &[[String; N]]) -> String {
    let widths: [usize; N] = std::array::from_fn(|column| {
        let cells = rows.iter().map(|row| row[column].chars().count());
        cells
            .chain([headings[column].chars().count()])
            .max()
            .unwrap_or(0)
            .max(3)
    });
    let line = |cells: [&str; N]| {
        let padded = cells
            .iter()
            .zip(widths)
            .enumerate()
            .map(|(column, (cell, width))| {
                if column == 0 {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            });
        format!("| {} |\n", padded.collect::<Vec<_>>().join(" | "))
    };
    let rule = std::array::from_fn::<String, N, _>(|column| {
        let dashes = "-".repeat(widths[column] - 1);
        if column == 0 {
            format!("{dashes}-")
        } else {
            format!("{dashes}:")
        }
    });
    let mut text = line(headings) + &line(rule.each_ref().map(String::as_str));
    for row in rows {
        text += &line(row.each_ref().map(String::as_str));
    }
    text
}

/// The middle value, or the mean of the two in the middle; `None` of nothing.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.into_iter().collect();
    values.sort_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    let lower = values[(values.len() - 1) / 2];
    Some((lower + upper) / 2.0)
}

/// What stands where nothing could be measured.
const NOTHING: &str = "–";

/// A number with so many decimals, or a dash.
pub fn decimals(number: Option<f64>, decimals: usize) -> String {
    number.map_or(NOTHING.to_owned(), |n| format!("{n:.decimals$}"))
}

/// A share as a percentage, or a dash.
pub fn percent(share: Option<f64>) -> String {
    share.map_or(NOTHING.to_owned(), |s| format!("{:.1} %", s * 100.0))
}

/// Kilobytes of 1024 bytes as megabytes, or a dash.
pub fn megabytes(kilobytes: Option<f64>) -> String {
    decimals(kilobytes.map(|k| k * 1024.0 / 1e6), 0)
}
