/* The fields of a run: fields.part.h5 while it grows, fields.h5 when it is whole.
 *
 *   /grid     edges of the cells, m: r, z or x, y, z; attribute kind
 *   /parts    one data set a part: its share of each cell's volume (the room is what is left); attributes part, kind
 *   /time     s from time zero of the stored times; its attribute stage names the data set /stage
 *   /stage    index of the stage each stored time lies in; attribute names: the stages, one a line
 *   /fields   water/temperature, water/liquid_fraction, rest/temperature, rest/liquid_fraction (baths): per stored time.
 *             A split cell keeps both sides: the water's node, and the largest other node.
 *   /maps     freeze_time, solid_time, front_speed, pocket: one value a cell of water (its node's); where a body asks for clear ice:
 *             gas_fraction, clarity, minerals, clear_speed
 *   /series   one data set a column
 *   /meta     attributes format, program, case_hash, title
 *
 * Axes (time, z, r) or (time, z, y, x), C order; NaN where there is nothing. Every data set carries units (UDUNITS text) and
 * long_name; fields are float32 whose mantissa is rounded (attribute precision), maps and series float64. HDF5's default (old)
 * format, chunked along the slowest axis, shuffled and deflated, flushed after every stored time: a kill leaves a file that opens. */
#ifndef LASTWATER_FIELD_STORE_H
#define LASTWATER_FIELD_STORE_H

#include "geometry/mesh.h"
#include "io/file_mark.h"
#include "solver/results.h"
#include "solver/rig.h"

#define FIELD_STORE_PART "fields.part.h5"
#define FIELD_STORE_NAME "fields.h5"
enum { FIELD_STORE_FORMAT = 1 };

typedef struct field_store field_store;

/* Starts anew: an earlier fields.part.h5 in the directory goes, an earlier fields.h5 stays. rig and mesh are borrowed while the store
 * lives; case_hash is text that names the case. */
status field_store_create(field_store **out, const char *directory, const rig *r, const mesh *m, const char *case_hash, message *msg);
/* Brings fields.part.h5 back to the mark (see field_store_mark) and goes on from there. */
status field_store_continue(field_store **out, const char *directory, const rig *r, const mesh *m, const char *case_hash,
                            const file_mark *mark, message *msg);
/* Closes without more ado: what is stored stays in fields.part.h5. NULL-safe. */
void field_store_destroy(field_store **f);

/* One stored time, values per mesh node, and a flush. */
status field_store_append(field_store *f, double time, size_t stage, const double *temperature, const double *liquid_fraction,
                          message *msg);
size_t field_store_num_times(const field_store *f);
double field_store_last_time(const field_store *f); /* s; -INFINITY when there is none */
/* Marks the present state for field_store_continue; release the mark. */
status field_store_mark(field_store *f, file_mark *mark, message *msg);

/* Adds maps and series and closes the file, still under its name fields.part.h5. *f is NULL afterwards, whatever happened. */
status field_store_finish(field_store **f, const results *res, message *msg);
/* Gives the finished file its name. */
status field_store_publish(const char *directory, message *msg);

/* value with its mantissa rounded to 13 bits: relative error at most 2^-14. NaN and infinities as they are. */
float field_store_round(double value);

#endif
