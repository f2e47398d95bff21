//! Rates, their intervals, their comparison and the priors of many cells.
//!
//! Sources: `poisson_intervals.csv`, `gamma_posterior.csv`, `poisson_rate_ratio.csv`: scipy 1.17.1,
//! statsmodels 0.15.0; `eb_counts.csv`, `eb_priors.csv`: esda 2.9.0 (moments, Marshall 1991) and scipy
//! 1.17.1 (maximum likelihood).

mod common;

use common::{Row, close, table};
use waterseam_bites::rates::{
    Counted, Gamma, garwood, maximum_likelihood, moments, poisson_log_likelihood, rate_ratio,
};

fn counted(row: &Row, count: &str, exposure: &str) -> Counted {
    Counted { count: row.must(count) as u64, exposure: row.must(exposure) }
}

#[test]
fn exact_intervals_of_a_rate() {
    for row in table("poisson_intervals.csv") {
        let seen = counted(&row, "count", "exposure");
        let case = format!("{} in {}", seen.count, seen.exposure);
        close(&case, seen.rate().unwrap(), row.must("rate"), 1e-12 * row.must("rate"));
        for (level, low, high) in [(0.95, "lo95", "hi95"), (0.90, "lo90", "hi90")] {
            let got = garwood(seen, level).expect("an interval");
            close(&format!("{case}, {low}"), got.0, row.must(low), 1e-8 * row.must(low));
            close(&format!("{case}, {high}"), got.1, row.must(high), 1e-8 * row.must(high));
        }
    }
}

#[test]
fn what_is_known_of_a_rate_after_counting() {
    for row in table("gamma_posterior.csv") {
        let prior = Gamma { shape: row.must("prior_shape"), rate: row.must("prior_rate") };
        let posterior = prior.posterior(counted(&row, "count", "exposure"));
        let case = format!("prior {}, {}; {} bites", prior.shape, prior.rate, row.text("count"));
        let quantile = |p: f64| posterior.quantile(p);
        for (got, column) in [
            (Some(posterior.shape), "post_shape"),
            (Some(posterior.rate), "post_rate"),
            (posterior.mean(), "mean"),
            (posterior.standard_deviation(), "sd"),
            (quantile(0.5), "median"),
            (quantile(0.05), "q05"),
            (quantile(0.95), "q95"),
            (quantile(0.025), "q025"),
            (quantile(0.975), "q975"),
            (posterior.probability_above(row.must("r0")), "p_above_r0"),
        ] {
            let got = got.expect("a proper posterior");
            close(&format!("{case}, {column}"), got, row.must(column), 1e-8 * row.must(column));
        }
    }
}

/// Equal within the tolerance of the table, and missing where the table has no value.
fn same(case: &str, got: Option<f64>, want: Option<f64>) {
    match (got, want) {
        (Some(got), Some(want)) => close(case, got, want, 1e-8 * want.abs().max(1.0)),
        _ => assert_eq!(got, want, "{case}"),
    }
}

#[test]
fn two_rates_compared() {
    for row in table("poisson_rate_ratio.csv") {
        let (first, second) = (counted(&row, "x1", "e1"), counted(&row, "x2", "e2"));
        let case =
            format!("{} in {} against {} in {}", first.count, first.exposure, second.count, second.exposure);
        let got = rate_ratio(first, second, 0.95).expect("a comparison");
        for (got, column) in [
            (Some(got.p_minlike), "p_cond_minlike"),
            (Some(got.p_double), "p_cond_double"),
            (Some(got.p_greater), "p_greater"),
            (Some(got.p_less), "p_less"),
            (got.ratio, "ratio"),
            (got.ratio_low, "ratio_lo95"),
            (got.ratio_high, "ratio_hi95"),
        ] {
            same(&format!("{case}, {column}"), got, row.number(column));
        }
        // with no event at all the table says 1 by convention; the formula says 1 too
        same(&format!("{case}, p_cond_midp"), Some(got.p_mid), row.number("p_cond_midp"));
    }
}

/// The cells of one set of `eb_counts.csv`, with their rows.
fn cells(set: &str) -> Vec<(Counted, Row)> {
    let rows = table("eb_counts.csv").into_iter().filter(|row| row.text("set_id") == set);
    rows.map(|row| (counted(&row, "count", "exposure"), row)).collect()
}

#[test]
fn priors_of_many_cells() {
    for row in table("eb_priors.csv") {
        let set = row.text("set_id");
        let (seen, rows): (Vec<_>, Vec<_>) = cells(set).into_iter().unzip();
        assert_eq!(seen.len() as f64, row.must("n"), "{set}");
        let by_moments = moments(&seen).expect("moments");
        for (got, column) in [(by_moments.mean, "m"), (by_moments.variance, "s2"), (by_moments.between, "A")]
        {
            close(&format!("{set}, {column}"), got, row.must(column), 1e-10 * row.must(column));
        }
        let poisson = poisson_log_likelihood(&seen).expect("a likelihood");
        close(&format!("{set}, Poisson"), poisson, row.must("loglik_poisson"), 1e-6);
        let moment_prior = by_moments.prior;
        for (got, column) in
            [(moment_prior.map(|p| p.shape), "mom_shape"), (moment_prior.map(|p| p.rate), "mom_rate")]
        {
            let want = row.number(column);
            assert_eq!(got.is_some(), want.is_some(), "{set}, {column}");
            if let (Some(got), Some(want)) = (got, want) {
                close(&format!("{set}, {column}"), got, want, 1e-10 * want);
            }
        }
        let likely = maximum_likelihood(&seen);
        assert_eq!(likely.is_some(), row.number("ml_shape").is_some(), "{set}");
        if let Some(likely) = likely {
            // the table's own tolerance: 1 % where the shape is above 100 and the likelihood is flat
            let within = if row.must("ml_shape") > 100.0 { 1e-2 } else { 1e-4 };
            close(
                &format!("{set}, shape"),
                likely.prior.shape,
                row.must("ml_shape"),
                within * row.must("ml_shape"),
            );
            close(
                &format!("{set}, rate"),
                likely.prior.rate,
                row.must("ml_rate"),
                within * row.must("ml_rate"),
            );
            close(&format!("{set}, likelihood"), likely.log_likelihood, row.must("loglik_nb"), 1e-6);
        }
        let likely_prior = likely.map(|l| l.prior);
        for (cell, cell_row) in seen.iter().zip(&rows) {
            for (prior, column, within) in [(moment_prior, "mean_mom", 1e-8), (likely_prior, "mean_ml", 1e-5)]
            {
                let got = prior.and_then(|p| p.posterior(*cell).mean());
                let want = cell_row.number(column);
                assert_eq!(got.is_some(), want.is_some(), "{set}, {column}");
                if let (Some(got), Some(want)) = (got, want) {
                    close(&format!("{set}, cell {}, {column}", cell_row.text("i")), got, want, within);
                }
            }
        }
    }
}
