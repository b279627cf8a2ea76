//! Shots in a table: one row a shot, columns by name with their unit, as CSV in and out.
//!
//! What is known is checked; what is not known is kept as it stands. Nothing is guessed: not a unit, not
//! which sign parts the columns, not what a decimal comma means.

use super::range::Range;
use super::strike::{Club, Curve, Flight, FlightError, ObservedStrike, StrikeSpot};
use super::strike_number::{Number, possible, read_number};
use super::strike_solver::flight;
use csv::{ReaderBuilder, StringRecord, WriterBuilder};
use std::collections::BTreeMap;
use std::io::{self, Read};

/// The most that is read of one table.
pub const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// What is wrong with a table: row and column as a spreadsheet counts them, what, and what to write.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{at}: {what}")]
pub struct TableError {
    /// Where.
    pub at: String,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub help: String,
}

fn wrong(at: impl Into<String>, what: impl Into<String>, help: impl Into<String>) -> TableError {
    TableError {
        at: at.into(),
        what: what.into(),
        help: help.into(),
    }
}

/// A column of numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// As the head has it.
    pub head: String,
    /// The name without the unit, small letters and hyphens.
    pub name: String,
    /// The unit as the head has it.
    pub unit: String,
    /// The number of a strike that it is, if it is one.
    pub number: Option<Number>,
    /// Which column, from 0.
    pub place: usize,
    /// A value for each row, in the number's own unit where it is one; none where the cell is empty.
    pub values: Vec<Option<f64>>,
}

impl Column {
    /// Values that are there, each with its row from 0.
    #[must_use]
    pub fn there(&self) -> Vec<(usize, f64)> {
        let rows = self.values.iter().enumerate();
        rows.filter_map(|(row, value)| Some((row, (*value)?)))
            .collect()
    }
}

/// Takes a number's range from what follows.
type Follows = fn(&Flight) -> Option<Range>;

/// A table of shots.
#[derive(Clone, Debug)]
pub struct ShotTable {
    head: StringRecord,
    rows: Vec<StringRecord>,
    /// Columns of numbers, in their order.
    pub columns: Vec<Column>,
}

/// Stops with an error once more than the limit was read, however large the file is.
struct Limited<R> {
    inner: R,
    left: u64,
}

impl<R: Read> Read for Limited<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(into)?;
        self.left = self
            .left
            .checked_sub(read as u64)
            .ok_or_else(|| io::Error::new(io::ErrorKind::FileTooLarge, "larger than is read"))?;
        Ok(read)
    }
}

impl ShotTable {
    /// Reads a table to its end, or to `most` bytes.
    ///
    /// # Errors
    ///
    /// [`TableError`], with row and column.
    pub fn read(source: impl Read, most: u64) -> Result<Self, TableError> {
        let limited = Limited {
            inner: source,
            left: most,
        };
        let mut reader = ReaderBuilder::new().from_reader(limited);
        let head = reader.headers();
        let head = head.map_err(|error| csv_error(&error, most))?.clone();
        let mut columns = columns(&head)?;
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| csv_error(&error, most))?;
            for column in &mut columns {
                let cell = record.get(column.place).unwrap_or("").trim();
                let value = value(cell, column, rows.len())?;
                column.values.push(value);
            }
            rows.push(record);
        }
        if rows.is_empty() {
            return Err(wrong(
                "row 2",
                "there is no shot",
                "write one row a shot below the head",
            ));
        }
        let table = Self {
            head,
            rows,
            columns,
        };
        table.one_hand()?;
        Ok(table)
    }

    /// How many shots.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is no shot; never, once it was read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    fn text(&self, name: &str) -> Option<usize> {
        self.head.iter().position(|head| kebab(head) == name)
    }

    fn one_hand(&self) -> Result<(), TableError> {
        let Some(place) = self.text("handed") else {
            return Ok(());
        };
        let mut first: Option<&str> = None;
        for (row, record) in self.rows.iter().enumerate() {
            let hand = record.get(place).unwrap_or("").trim();
            if hand.is_empty() {
                continue;
            }
            if *first.get_or_insert(hand) != hand {
                return Err(wrong(
                    cell_name(row, place, "handed"),
                    format!("`{hand}` among `{}`", first.unwrap_or_default()),
                    "write the shots of one student, or of one hand, in a table",
                ));
            }
        }
        Ok(())
    }

    /// Refuses shots of another hand than this, `right` or `left`.
    ///
    /// # Errors
    ///
    /// The first cell of the column `handed` that says otherwise.
    pub fn of_hand(&self, wanted: &str) -> Result<(), TableError> {
        let Some(place) = self.text("handed") else {
            return Ok(());
        };
        for (row, record) in self.rows.iter().enumerate() {
            let hand = record.get(place).unwrap_or("").trim();
            if !(hand.is_empty() || hand.eq_ignore_ascii_case(wanted)) {
                let shown: String = hand.chars().take(40).collect();
                return Err(wrong(
                    cell_name(row, place, "handed"),
                    format!("`{shown}`, and the student plays {wanted}-handed"),
                    "write right or left, and the shots of this student alone",
                ));
            }
        }
        Ok(())
    }

    /// What follows from each shot; an error of the numbers stands in its place.
    ///
    /// # Errors
    ///
    /// A word for curve, strike or club that is not known.
    pub fn flights(
        &self,
        club: Option<Club>,
    ) -> Result<Vec<Result<Flight, FlightError>>, TableError> {
        let mut found = Vec::with_capacity(self.rows.len());
        for row in 0..self.rows.len() {
            found.push(flight(&self.given(row, club)?));
        }
        Ok(found)
    }

    fn given(&self, row: usize, club: Option<Club>) -> Result<ObservedStrike, TableError> {
        let numbers = self
            .columns
            .iter()
            .filter_map(|column| Some((column.number?, column.values[row]?)));
        let mut numbers: BTreeMap<Number, f64> = numbers.collect();
        // A table tells the carry of every shot, whether or not something is seen at it; the plane too.
        let yards = [Number::StartYards, Number::CurveYards];
        if !yards.iter().any(|number| numbers.contains_key(number)) {
            numbers.remove(&Number::Carry);
        }
        if !numbers.contains_key(&Number::LowPoint) {
            numbers.remove(&Number::Plane);
        }
        Ok(ObservedStrike {
            numbers,
            curve: self.word(row, "curve", Curve::parse, "in, none or out")?,
            strike: self.word(row, "strike", StrikeSpot::parse, "toe, heel, low or high")?,
            club: self
                .word(row, "club", Club::parse, "driver, wood, iron or wedge")?
                .or(club),
            ..ObservedStrike::default()
        })
    }

    fn word<T>(
        &self,
        row: usize,
        name: &str,
        parse: fn(&str) -> Option<T>,
        words: &str,
    ) -> Result<Option<T>, TableError> {
        let Some(place) = self.text(name) else {
            return Ok(None);
        };
        let cell = self.rows[row].get(place).unwrap_or("").trim();
        if cell.is_empty() {
            return Ok(None);
        }
        parse(cell).map(Some).ok_or_else(|| {
            let shown: String = cell.chars().take(40).collect();
            wrong(
                cell_name(row, place, name),
                format!("`{shown}` is not one of its words"),
                format!("write {words}, or leave it empty"),
            )
        })
    }

    /// The table as CSV, every column kept as it was, with what follows from each shot behind them:
    /// value, low and high of start, tilt, face, path and face to path where no column gives them.
    ///
    /// # Errors
    ///
    /// Those of [`Self::flights`].
    pub fn with_flights(&self, club: Option<Club>) -> Result<String, TableError> {
        let flights = self.flights(club)?;
        let all: [(Number, Follows); 5] = [
            (Number::Start, |flight| flight.start),
            (Number::Tilt, |flight| flight.tilt),
            (Number::Face, |flight| flight.face),
            (Number::Path, |flight| flight.path),
            (Number::Delta, |flight| flight.delta),
        ];
        let given = |number| self.columns.iter().any(|one| one.number == Some(number));
        let added: Vec<_> = all.into_iter().filter(|(of, _)| !given(*of)).collect();
        let mut writer = WriterBuilder::new().from_writer(Vec::new());
        let mut head = self.head.clone();
        for (number, _) in &added {
            for part in ["", " low", " high"] {
                head.push_field(&format!("{}{part} worked out (degrees)", number.as_str()));
            }
        }
        let failed = |error: csv::Error| wrong("the table", error.to_string(), "report it");
        writer.write_record(&head).map_err(failed)?;
        for (row, flight) in self.rows.iter().zip(&flights) {
            let mut row = row.clone();
            for (_, of) in &added {
                let cells = match flight.as_ref().ok().and_then(of) {
                    Some(r) => [r.value, r.low, r.high].map(|value| format!("{value:.2}")),
                    None => Default::default(),
                };
                cells.iter().for_each(|cell| row.push_field(cell));
            }
            writer.write_record(&row).map_err(failed)?;
        }
        let bytes = writer.into_inner().unwrap_or_default();
        Ok(String::from_utf8(bytes).unwrap_or_default())
    }
}

fn kebab(text: &str) -> String {
    let words: Vec<&str> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    words.join("-").to_lowercase()
}

fn cell_name(row: usize, place: usize, head: &str) -> String {
    format!("row {}, column {} ({head})", row + 2, place + 1)
}

/// `path (degrees)` as name and unit.
fn head_parts(head: &str) -> (String, Option<String>) {
    let head = head.trim().trim_start_matches('\u{feff}');
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((name, rest)) = head.rsplit_once(open)
            && let Some(unit) = rest.trim_end().strip_suffix(close)
        {
            return (kebab(name), Some(unit.trim().to_lowercase()));
        }
    }
    (kebab(head), None)
}

fn columns(head: &StringRecord) -> Result<Vec<Column>, TableError> {
    if head.len() == 1 && head.get(0).is_some_and(|head| head.contains(';')) {
        return Err(wrong(
            "row 1",
            "the columns are parted by semicolons",
            "part them by commas, and write a point before decimals",
        ));
    }
    let mut found: Vec<Column> = Vec::new();
    for (place, text) in head.iter().enumerate() {
        let at = || format!("row 1, column {} ({})", place + 1, text.trim());
        let (name, unit) = head_parts(text);
        let number = number_of(&name);
        let Some(unit) = unit else {
            if let Some(number) = number {
                return Err(wrong(
                    at(),
                    "the unit is missing",
                    format!("write {} ({})", text.trim(), number.unit()),
                ));
            }
            continue;
        };
        if let Some(number) = number
            && factor(number, &unit).is_none()
        {
            return Err(wrong(
                at(),
                format!("`{unit}` is not a unit of it"),
                format!("write it in {}", number.unit()),
            ));
        }
        if let Some(twice) = number.and_then(|n| found.iter().find(|c| c.number == Some(n))) {
            return Err(wrong(
                at(),
                format!("`{}` is the same number", twice.head),
                "keep one",
            ));
        }
        found.push(Column {
            head: text.trim().to_owned(),
            name,
            unit,
            number,
            place,
            values: Vec::new(),
        });
    }
    Ok(found)
}

/// The number that a column's name means: its own word, or what a library calls it.
fn number_of(name: &str) -> Option<Number> {
    let all = || Number::ALL.iter().copied();
    Number::parse(name).or_else(|| all().find(|number| number.quantity() == Some(name)))
}

/// By what a value in this unit is multiplied to be in the number's own.
fn factor(number: Number, unit: &str) -> Option<f64> {
    let known: &[(&str, f64)] = match number.unit() {
        "degrees" => &[
            ("degrees", 1.0),
            ("degree", 1.0),
            ("deg", 1.0),
            ("\u{b0}", 1.0),
        ],
        "yards" => &[
            ("yards", 1.0),
            ("yard", 1.0),
            ("yd", 1.0),
            ("yds", 1.0),
            ("m", 1.0 / 0.9144),
            ("metres", 1.0 / 0.9144),
        ],
        "cm" => &[("cm", 1.0), ("mm", 0.1), ("in", 2.54), ("inches", 2.54)],
        _ => &[("share", 1.0), ("%", 0.01), ("percent", 0.01)],
    };
    known
        .iter()
        .find(|(name, _)| *name == unit)
        .map(|(_, factor)| *factor)
}

fn value(cell: &str, column: &Column, row: usize) -> Result<Option<f64>, TableError> {
    if cell.is_empty() {
        return Ok(None);
    }
    let at = || cell_name(row, column.place, &column.head);
    let shown = || cell.chars().take(40).collect::<String>();
    let value = read_number(cell)
        .map_err(|help| wrong(at(), format!("`{}` is not a number", shown()), help))?;
    let Some(number) = column.number else {
        return Ok(Some(value));
    };
    let value = value * factor(number, &column.unit).unwrap_or(1.0);
    possible(number, value)
        .map_err(|what| wrong(at(), what, "mend the cell, or leave it empty"))?;
    Ok(Some(value))
}

fn csv_error(error: &csv::Error, most: u64) -> TableError {
    let row = |position: &Option<csv::Position>| {
        position.as_ref().map_or_else(
            || "the table".to_owned(),
            |p| format!("row {}", p.record() + 1),
        )
    };
    match error.kind() {
        csv::ErrorKind::Io(error) if error.kind() == io::ErrorKind::FileTooLarge => wrong(
            "the table",
            format!("larger than {} MB", most / 1024 / 1024),
            "write a session to a table",
        ),
        csv::ErrorKind::UnequalLengths {
            pos,
            expected_len,
            len,
        } => wrong(
            row(pos),
            format!("{len} columns, and the head has {expected_len}"),
            "write a point before decimals, and put text with a comma in quotes",
        ),
        csv::ErrorKind::Utf8 { pos, .. } => wrong(row(pos), "not UTF-8", "save the table as UTF-8"),
        _ => wrong("the table", error.to_string(), "write it as CSV"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<ShotTable, TableError> {
        ShotTable::read(text.as_bytes(), MOST_BYTES)
    }

    #[test]
    fn what_is_known_is_read_and_what_is_not_is_kept() {
        let table = read("shot,face (deg),club-path [degrees],carry (m),start-yards (m),mood,speed (mph)\n1,2,-4,200,,fine,95\n2,,-3,190,2,\"a, b\",96\n").unwrap();
        assert_eq!((table.len(), table.columns.len()), (2, 5));
        assert!((table.columns[2].values[0].unwrap() - 218.72).abs() < 0.01);
        let text = table.with_flights(Some(Club::Driver)).unwrap();
        assert!(
            text.starts_with("shot,face (deg),club-path [degrees]"),
            "{text}"
        );
        assert!(text.contains("\"a, b\"") && text.contains("tilt high worked out (degrees)"));
        let again = read(&text).unwrap();
        assert_eq!(again.len(), 2);
    }

    #[test]
    fn slips_have_a_row_and_a_column() {
        for (text, words) in [
            (
                "face,path (deg)\n1,2\n",
                "row 1, column 1 (face): the unit is missing",
            ),
            (
                "face (yards)\n1\n",
                "row 1, column 1 (face (yards)): `yards` is not a unit",
            ),
            (
                "face (deg)\n400\n",
                "row 2, column 1 (face (deg)): face lies between",
            ),
            (
                "face (deg)\n1\nNaN\n",
                "row 3, column 1 (face (deg)): `NaN` is not a number",
            ),
            ("face (deg)\n\"2,5\"\n", "a point before the decimals: 2.5"),
            ("face (deg)\n2,5\n", "row 2: 2 columns, and the head has 1"),
            ("face (deg);path (deg)\n2;3\n", "parted by semicolons"),
            ("face (deg)\n", "there is no shot"),
            (
                "face (deg),face-to-target (deg)\n1,1\n",
                "is the same number",
            ),
            (
                "face (deg),handed\n1,right\n2,left\n",
                "row 3, column 2 (handed): `left` among `right`",
            ),
            ("", "there is no shot"),
        ] {
            let error = read(text).expect_err(text);
            let said = format!("{error}; {}", error.help);
            assert!(said.contains(words), "{text:?}: {said}");
        }
        let wide = read("face (deg),curve\n1,left\n")
            .unwrap()
            .flights(None)
            .unwrap_err();
        assert!(
            wide.to_string().contains("`left` is not one of its words"),
            "{wide}"
        );
        assert!(wide.help.contains("in, none or out"), "{}", wide.help);
    }

    #[test]
    fn a_table_without_end_is_left_off() {
        let endless = "face (deg)\n".as_bytes().chain(io::repeat(b'1'));
        let error = ShotTable::read(endless, 1 << 20).unwrap_err();
        assert!(error.to_string().contains("larger than 1 MB"), "{error}");
    }
}
