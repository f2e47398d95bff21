//! Which files was a trip read from, and what became of every record?

crate::table::table! {
    "sources", "file read";
    trip_id: Maybe<Text>, "", "Trip that the file belongs to; missing where no trip could use it.", ANY;
    file_name: Text, "", "Name of the file, without its folder.", ANY;
    content_hash: Text, "", "BLAKE3 of the file's bytes, lower-case hexadecimal.", ANY;
    kind: Text, "", "What the file holds, recognised by its content.", Domain::Words(&["nmea0183", "gpx", "probe", "bites", "gear", "unknown"]);
    bytes: Int, "byte", "Size of the file.", NOT_NEGATIVE;
    records_read: Int, "", "Records seen: used, not needed and set aside together.", NOT_NEGATIVE;
    records_used: Int, "", "Records that gave at least one value.", NOT_NEGATIVE;
    records_not_needed: Int, "", "Good records that say nothing this job needs.", NOT_NEGATIVE;
    records_set_aside: Int, "", "Records that could not be used.", NOT_NEGATIVE;
    set_aside_reasons: Text, "", "JSON object: reason to number of records set aside for it.", ANY;
    time_first: Maybe<Time>, "", "Earliest time in the file.", ANY;
    time_last: Maybe<Time>, "", "Latest time in the file.", ANY;
    clock_offset_s: Maybe<Float>, "s", "Added to this file's clock to reach UTC.", ANY;
    clock_offset_method: Maybe<Text>, "", "How the offset is known.", ANY;
    remarks: Text, "", "JSON array of sentences: what the captain should know about this file.", ANY;
}
