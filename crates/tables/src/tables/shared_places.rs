//! What is told of many trips to others, coarse enough that no spot is given away? No table of a logbook.

crate::table::table! {
    "shared_places", "coarse H3 cell and part of the season, over all years";
    cell: Cell, "", "H3 cell.", ANY;
    resolution: Code, "", "Its H3 resolution.", between(0.0, 9.0);
    geometry: Shape, "", "The cell's outline.", ANY;
    season_part: Text, "", "Part of the season, as in the table hotspots.", ANY;
    species: Text, "", "Species, lower case; * for all.", ANY;
    trips: Int, "", "Trips that fished it.", NOT_NEGATIVE;
    years: Int, "", "Years in which it was fished.", NOT_NEGATIVE;
    rod_hours: Float, "h", "Effort, in whole hours.", NOT_NEGATIVE;
    bites: Int, "", "Bites.", NOT_NEGATIVE;
    rate: Float, "1/h", "Bites a rod-hour as counted, in hundredths.", NOT_NEGATIVE;
    bite_depth_m: Maybe<Float>, "m", "Depth of the lures at the bites, median, to 5 m; missing where too few trips had one.", DEPTH;
    bite_temp_c: Maybe<Float>, "°C", "Temperature there, median, to 1 °C; likewise.", WATER_TEMP;
    bite_surface_temp_c: Maybe<Float>, "°C", "Surface temperature over the bites, median, to 1 °C; likewise.", WATER_TEMP;
}
