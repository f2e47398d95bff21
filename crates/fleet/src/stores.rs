//! Where do the files of a pool lie?
//!
//! In a folder, or in a bucket of a store that speaks S3. What a store asks for stands in the environment of each process
//! that reads it: `AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`, `AWS_REGION`, and for a store of one's own `AWS_ENDPOINT`
//! and `AWS_ALLOW_HTTP`.

use std::sync::Arc;

use datafusion::common::DataFusionError;
use datafusion::error::Result;
use datafusion::execution::object_store::{DefaultObjectStoreRegistry, ObjectStoreRegistry};
use datafusion::execution::runtime_env::{RuntimeEnv, RuntimeEnvBuilder};
use object_store::ObjectStore;
use object_store::aws::AmazonS3Builder;
use url::Url;

/// Folders, and buckets when they are first asked for.
#[derive(Debug, Default)]
struct Stores {
    known: DefaultObjectStoreRegistry,
}

impl ObjectStoreRegistry for Stores {
    fn register_store(&self, url: &Url, store: Arc<dyn ObjectStore>) -> Option<Arc<dyn ObjectStore>> {
        self.known.register_store(url, store)
    }

    fn get_store(&self, url: &Url) -> Result<Arc<dyn ObjectStore>> {
        let known = self.known.get_store(url);
        if known.is_ok() || url.scheme() != "s3" {
            return known;
        }
        let bucket = AmazonS3Builder::from_env().with_url(url.as_str()).build();
        let bucket: Arc<dyn ObjectStore> =
            Arc::new(bucket.map_err(|e| DataFusionError::ObjectStore(Box::new(e)))?);
        self.known.register_store(url, bucket.clone());
        Ok(bucket)
    }
}

/// What a process reads files with.
pub(crate) fn runtime() -> Result<Arc<RuntimeEnv>> {
    RuntimeEnvBuilder::new().with_object_store_registry(Arc::new(Stores::default())).build_arc()
}
