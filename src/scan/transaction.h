/* A file written under a hidden temporary name beside its own and renamed when
 * whole, so that its name never holds half a file. */
#ifndef MILORI_TRANSACTION_H
#define MILORI_TRANSACTION_H

#include "base/base.h"

typedef struct mil_transaction mil_transaction;

/* Creates ".milori-<16 hex digits>.part" in path's folder, exclusively, and
 * holds an flock() on it while the transaction lives. MILORI_ERR_EXISTS if path
 * is there and may not be replaced. */
milori_status mil_transaction_open(milori_context *ctx, const char *path, bool replace,
                                   mil_transaction **transaction);
milori_context *mil_transaction_context(const mil_transaction *transaction);
/* path for messages */
const char *mil_transaction_name(const mil_transaction *transaction);
/* Writes at the place and moves it on. false once anything has failed: a short
 * write is remembered, and no later call forgets it. */
bool mil_transaction_write(mil_transaction *transaction, const void *bytes, size_t size);
bool mil_transaction_seek(mil_transaction *transaction, uint64_t place);
uint64_t mil_transaction_place(const mil_transaction *transaction);
/* One past the last byte written. */
uint64_t mil_transaction_size(const mil_transaction *transaction);
/* Puts into words why the file cannot be written: the system's reason if there
 * is one, else the codec's. Returns MILORI_ERR_WRITE. */
milori_status mil_transaction_fail(mil_transaction *transaction, const char *codec_reason);
/* Flushes, fsyncs and renames; frees in any case. On failure nothing is left. */
milori_status mil_transaction_commit(mil_transaction *transaction);
/* Removes the temporary and frees. NULL is fine. */
void mil_transaction_abort(mil_transaction *transaction);

#endif
