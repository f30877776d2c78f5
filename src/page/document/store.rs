//! The browser's storage (IndexedDB): one store of records as texts.

use idb::{Database, DatabaseEvent, Error, Factory, ObjectStoreParams, Query, TransactionMode};
use wasm_bindgen::JsValue;

use crate::document::Record;

const DATABASE: &str = "polewright";
const STORE: &str = "designs";

/// Opens it; the first time it is made.
///
/// # Errors
/// Where the browser has no storage or forbids it.
pub async fn open() -> Result<Database, Error> {
    let mut request = Factory::new()?.open(DATABASE, Some(1))?;
    request.on_upgrade_needed(|event| {
        if let Ok(database) = event.database() {
            // Fails only where it is there already.
            let _ = database.create_object_store(STORE, ObjectStoreParams::new());
        }
    });
    request.await
}

/// All records, the one that was changed last first; what cannot be read is left where it is.
///
/// # Errors
/// As the browser's.
pub async fn all(database: &Database) -> Result<Vec<Record>, Error> {
    let reading = database.transaction(&[STORE], TransactionMode::ReadOnly)?;
    let texts = reading.object_store(STORE)?.get_all(None, None)?.await?;
    let texts = texts.iter().filter_map(JsValue::as_string);
    let mut records: Vec<Record> = texts.filter_map(|text| Record::read(&text)).collect();
    crate::numerics::put_in_order(&mut records, |a, b| b.changed.total_cmp(&a.changed));
    Ok(records)
}

/// Puts a record in place of the one with its number, if that was changed last at `known`, or is not there. Whether it
/// did: another tab may have changed it.
///
/// # Errors
/// As the browser's, also where the storage is full.
pub async fn put(database: &Database, record: &Record, known: Option<f64>) -> Result<bool, Error> {
    let writing = database.transaction(&[STORE], TransactionMode::ReadWrite)?;
    let store = writing.object_store(STORE)?;
    let key = JsValue::from_str(&record.id);
    let there = store.get(Query::Key(key.clone()))?.await?;
    let there = there.and_then(|text| Record::read(&text.as_string()?));
    if there.is_some_and(|there| Some(there.changed) != known) {
        return Ok(false);
    }
    store
        .put(&JsValue::from_str(&record.written()), Some(&key))?
        .await?;
    // What does not fit is told by the transaction.
    writing.commit()?.await?;
    Ok(true)
}

/// Takes records out.
///
/// # Errors
/// As the browser's.
pub async fn remove(database: &Database, ids: &[String]) -> Result<(), Error> {
    let writing = database.transaction(&[STORE], TransactionMode::ReadWrite)?;
    let store = writing.object_store(STORE)?;
    for id in ids {
        store.delete(Query::Key(JsValue::from_str(id)))?.await?;
    }
    writing.commit()?.await?;
    Ok(())
}
