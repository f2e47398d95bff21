//! Which records could not be used, and why?

crate::table::table! {
    "set_aside", "record that could not be used (at most 10,000 a file and reason; the counts in sources are complete)";
    trip_id: Maybe<Text>, "", "Trip that the file belongs to; missing where no trip could use it.", ANY;
    file_name: Text, "", "Name of the file, without its folder.", ANY;
    line: Int, "", "Line of the file, from 1.", NOT_NEGATIVE;
    byte: Int, "byte", "Where in the file the record starts, from 0.", NOT_NEGATIVE;
    reason: Text, "", "Why it could not be used: one word, the same in every file.", ANY;
    raw: Text, "", "First 200 characters of the record; bytes that are no text are replaced.", ANY;
}
