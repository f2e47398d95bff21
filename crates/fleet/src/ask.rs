//! What is asked of a pool, and who answers?

use std::sync::Arc;

use ballista::extension::{SessionConfigExt, SessionContextExt};
use datafusion::arrow::array::{Int64Array, RecordBatch, StringArray};
use datafusion::arrow::datatypes::{DataType, Field, Schema, SchemaRef};
use datafusion::datasource::MemTable;
use datafusion::datasource::file_format::parquet::ParquetFormat;
use datafusion::datasource::listing::ListingOptions;
use datafusion::error::Result;
use datafusion::execution::SessionStateBuilder;
use datafusion::prelude::{SessionConfig, SessionContext};

use crate::stores;

/// What each trip did in each cell.
pub const VISITS: &str = include_str!("../sql/visits.sql");
/// On which day each trip was.
pub const OUTINGS: &str = include_str!("../sql/outings.sql");
/// What bit.
pub const BITES: &str = include_str!("../sql/bites.sql");
/// What was done and caught in each place.
pub const LAYER: &str = include_str!("../sql/layer.sql");

/// Tables of a pool that the questions are about.
const TABLES: [&str; 4] = ["effort", "cell_visits", "trips", "bites"];

/// A layer that is wanted.
#[derive(Clone, Debug)]
pub struct Question {
    /// H3 resolution of its cells, 0 to 9.
    pub resolution: u8,
    /// How the season is divided: `week`, `half-month`, `month`, `season` or `all`.
    pub season_part: String,
}

/// A session whose questions this process answers.
///
/// # Errors
/// Where its store cannot be set up.
pub fn here() -> Result<SessionContext> {
    Ok(SessionContext::new_with_config_rt(SessionConfig::new(), stores::runtime()?))
}

/// A session whose questions the executors of a scheduler (`df://host:port`) answer.
///
/// # Errors
/// Where there is no scheduler.
pub async fn there(scheduler: &str) -> Result<SessionContext> {
    let state = SessionStateBuilder::new()
        .with_config(SessionConfig::new_with_ballista())
        .with_runtime_env(stores::runtime()?)
        .with_default_features()
        .build();
    SessionContext::remote_with_state(scheduler, state).await
}

/// What a session answers to a question about a pool.
#[derive(Debug)]
pub struct Answer {
    /// The question's file, `visits` for `visits.sql`.
    pub name: &'static str,
    /// Its columns.
    pub schema: SchemaRef,
    /// Its rows, in any order.
    pub rows: Vec<RecordBatch>,
}

/// What was done on each trip, when, and what bit: all that a layer is made of, without the minutes.
///
/// # Errors
/// Where the pool cannot be read, or a question cannot be answered.
pub async fn answers(session: &SessionContext, pool: &str) -> Result<Vec<Answer>> {
    for table in TABLES {
        let options = ListingOptions::new(Arc::new(ParquetFormat::default()))
            .with_file_extension(".parquet")
            .with_table_partition_cols(vec![
                ("boat".to_owned(), DataType::Utf8),
                ("year".to_owned(), DataType::Utf8),
            ]);
        let folder = format!("{}/{table}/", pool.trim_end_matches('/'));
        session.register_listing_table(table, folder, options, None, None).await?;
    }
    let mut answers = Vec::new();
    for (name, question) in [("visits", VISITS), ("outings", OUTINGS), ("bites", BITES)] {
        let answer = session.sql(question).await?;
        let schema = nullable(answer.schema().as_arrow());
        // what comes from executors may differ in whether a column can be missing, never in its type
        let rows = answer.collect().await?.into_iter();
        let rows: Result<Vec<RecordBatch>, _> =
            rows.map(|batch| RecordBatch::try_new(schema.clone(), batch.columns().to_vec())).collect();
        answers.push(Answer { name, schema, rows: rows? });
    }
    Ok(answers)
}

/// The rows of `layer.sql`: reading and grouping is the session's, the rest is done here.
///
/// # Errors
/// Where the pool cannot be read, or a question cannot be answered.
pub async fn layer(session: &SessionContext, pool: &str, question: &Question) -> Result<Vec<RecordBatch>> {
    let few = here()?;
    for Answer { name, schema, rows } in answers(session, pool).await? {
        let table = if name == "bites" { "bites_of_trips" } else { name };
        few.register_table(table, Arc::new(MemTable::try_new(schema, vec![rows])?))?;
    }
    few.register_batch("question", asked(question)?)?;
    few.sql(LAYER).await?.collect().await
}

fn nullable(schema: &Schema) -> SchemaRef {
    let fields: Vec<Field> =
        schema.fields().iter().map(|field| field.as_ref().clone().with_nullable(true)).collect();
    Arc::new(Schema::new(fields))
}

fn asked(question: &Question) -> Result<RecordBatch> {
    let schema = Schema::new(vec![
        Field::new("resolution", DataType::Int64, false),
        Field::new("season_part", DataType::Utf8, false),
    ]);
    Ok(RecordBatch::try_new(
        Arc::new(schema),
        vec![
            Arc::new(Int64Array::from(vec![i64::from(question.resolution)])),
            Arc::new(StringArray::from(vec![question.season_part.clone()])),
        ],
    )?)
}
