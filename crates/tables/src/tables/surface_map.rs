//! How warm was the surface around the track, where that can be said?

crate::table::table! {
    "surface_map", "cell of the surface map; a cell that the track tells too little about has no row";
    trip_id: Word, "", "Trip.", ANY;
    lat: Float, "degree", "Latitude of the cell's centre, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude of the cell's centre, WGS 84, east positive.", LONGITUDE;
    column: Int, "", "Column of the cell, from the west.", NOT_NEGATIVE;
    row: Int, "", "Row of the cell, from the south.", NOT_NEGATIVE;
    cell_m: Float, "m", "Side of the cell.", NOT_NEGATIVE;
    temp_c: Float, "°C", "Surface temperature by objective analysis (Bretherton, Davis & Fandry 1976), over all hours of the trip.", WATER_TEMP;
    error_c: Float, "°C", "Standard error of that temperature.", NOT_NEGATIVE;
    gradient_c_per_km: Maybe<Float>, "°C/km", "Gradient; missing beside a cell without a row.", NOT_NEGATIVE;
    is_edge: Truth, "", "True where the gradient is greatest along its own direction, steep, and beyond the error of the map.", ANY;
}
