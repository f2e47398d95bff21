//! Where, when, how deep and at what temperature did many trips do well?

crate::table::table! {
    "hotspots", "H3 cell, part of the season and species (`*`: all), over all years";
    cell: Cell, "", "H3 cell.", ANY;
    resolution: Code, "", "Its H3 resolution.", between(0.0, 9.0);
    geometry: Shape, "", "The cell's outline.", ANY;
    season_part: Text, "", "Part of the season: w27 (ISO week), 07a and 07b (to the 15th of a month and after), 07 (month), spring (March to May), summer, autumn, winter, or all.", ANY;
    species: Text, "", "Species, lower case; * for all.", ANY;
    trips: Int, "", "Trips that fished it.", NOT_NEGATIVE;
    years: Int, "", "Years in which it was fished.", NOT_NEGATIVE;
    years_with_bites: Int, "", "Years with a bite in it.", NOT_NEGATIVE;
    years_above: Int, "", "Years in which it gave more than the same trips had in all the water that they fished.", NOT_NEGATIVE;
    rod_hours: Float, "h", "Effort; 0 where it was only run through.", NOT_NEGATIVE;
    run_m: Float, "m", "Way run in it.", NOT_NEGATIVE;
    bites: Int, "", "Bites.", NOT_NEGATIVE;
    rate_raw: Maybe<Float>, "1/h", "Bites a rod-hour, as counted; missing without effort.", NOT_NEGATIVE;
    rate: Maybe<Float>, "1/h", "Bites a rod-hour at average luck, posterior mean: empirical Bayes about what its neighbours say, with the luck of each trip told by what it did elsewhere; missing without effort.", NOT_NEGATIVE;
    rate_low: Maybe<Float>, "1/h", "Lower end of its 90 % interval.", NOT_NEGATIVE;
    rate_high: Maybe<Float>, "1/h", "Upper end of its 90 % interval.", NOT_NEGATIVE;
    times_average: Maybe<Float>, "", "The rate over the mean rate of that part of the season, over all water fished.", NOT_NEGATIVE;
    times_low: Maybe<Float>, "", "Lower end of its 90 % interval.", NOT_NEGATIVE;
    times_high: Maybe<Float>, "", "Upper end of its 90 % interval.", NOT_NEGATIVE;
    hot_chance: Maybe<Float>, "", "Probability that it is at least twice that mean.", between(0.0, 1.0);
    more_rod_hours: Maybe<Float>, "h", "Effort more that would tell it from the mean, if it went on as it is; missing where it is told already, or too near the mean ever to matter.", NOT_NEGATIVE;
    gi_star_z: Maybe<Float>, "", "Getis-Ord Gi* of bites over those expected by the trips' own rates, as a normal deviate, among the cells fished in that part of the season.", ANY;
    gi_star_p: Maybe<Float>, "", "Probability of one as high where the bites of each trip fall on its hours by chance, by draws.", between(0.0, 1.0);
    gi_star_q: Maybe<Float>, "", "The same adjusted for the number of cells and parts (Benjamini-Hochberg).", between(0.0, 1.0);
    cluster: Maybe<Int>, "", "Group of neighbouring cells and parts of the season with more bites than by chance that it belongs to (space-time scan), from 1, the strongest first.", at_least(1.0);
    cluster_p: Maybe<Float>, "", "Probability of a group as strong anywhere in the search, where the bites of each trip fall on its hours by chance.", between(0.0, 1.0);
    hot: Truth, "", "True where the effort is enough and the rate is more likely than not at least twice the mean, or not much less likely and Gi* or the scan speaks for it too.", ANY;
    bite_depth_m: Maybe<Float>, "m", "Depth of the lures at the bites, median.", DEPTH;
    bite_depth_low_m: Maybe<Float>, "m", "A quarter of the bites came above this depth.", DEPTH;
    bite_depth_high_m: Maybe<Float>, "m", "A quarter of the bites came below this depth.", DEPTH;
    bite_temp_c: Maybe<Float>, "°C", "Temperature at the lures at the bites, median.", WATER_TEMP;
    bite_temp_low_c: Maybe<Float>, "°C", "A quarter of the bites came in colder water.", WATER_TEMP;
    bite_temp_high_c: Maybe<Float>, "°C", "A quarter of the bites came in warmer water.", WATER_TEMP;
    bite_surface_temp_c: Maybe<Float>, "°C", "Surface temperature over the bites, median.", WATER_TEMP;
    bite_surface_temp_low_c: Maybe<Float>, "°C", "A quarter of the bites came under a colder surface.", WATER_TEMP;
    bite_surface_temp_high_c: Maybe<Float>, "°C", "A quarter of the bites came under a warmer surface.", WATER_TEMP;
    surface_temp_c: Maybe<Float>, "°C", "Surface temperature, mean under the effort.", WATER_TEMP;
    break_rate: Maybe<Float>, "1/km", "Thermal breaks crossed in each km run.", NOT_NEGATIVE;
}
