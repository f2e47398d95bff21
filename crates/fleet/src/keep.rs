//! How are answers kept for other programs? As Parquet, a file for each question.

use std::path::Path;

use datafusion::error::{DataFusionError, Result};
use datafusion::parquet::arrow::ArrowWriter;

use crate::ask::Answer;

/// Writes a file for each answer into a folder, which is made where there is none. Each file is whole or not there.
///
/// # Errors
/// Where a file cannot be written.
pub fn keep(answers: &[Answer], folder: &Path) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    for answer in answers {
        let mut writer = ArrowWriter::try_new(Vec::new(), answer.schema.clone(), None)?;
        for batch in &answer.rows {
            writer.write(batch)?;
        }
        let bytes = writer.into_inner()?;
        let unnamed = folder.join(format!("{}.tmp", answer.name));
        std::fs::write(&unnamed, bytes)?;
        std::fs::rename(&unnamed, folder.join(format!("{}.parquet", answer.name)))
            .map_err(DataFusionError::IoError)?;
    }
    Ok(())
}
