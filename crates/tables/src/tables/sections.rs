//! How warm was the water along the track and down?

crate::table::table! {
    "sections", "cell of a section: a distance along the track and a depth, on a grid of round numbers";
    trip_id: Word, "", "Trip.", ANY;
    section_id: Word, "", "Section: a stretch of the track with probe profiles about it.", ANY;
    column: Int, "", "Column of the cell in its section, in order of the track.", NOT_NEGATIVE;
    time: Time, "", "When the boat was there.", ANY;
    lat: Float, "degree", "Latitude, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude, WGS 84, east positive.", LONGITUDE;
    distance_m: Float, "m", "Distance along the track from the trip's start.", NOT_NEGATIVE;
    depth_m: Float, "m", "Depth of the cell's middle.", DEPTH;
    temp_c: Maybe<Float>, "°C", "Temperature, as the probe reads it; missing where nobody measured, or where profiles lie too far apart for what changed between them.", WATER_TEMP;
    temp_se_c: Maybe<Float>, "°C", "Standard error of that temperature.", NOT_NEGATIVE;
    method: Word, "", "Whether the probe went down and up all along there, or the cell lies between casts, whose isotherms go from one depth to the other in between.", Domain::Words(&["undulating", "between_casts"]);
}
