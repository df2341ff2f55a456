/* fields.xdmf: a small XML file beside fields.h5 (the open XDMF 3 format) by which general viewers open the fields and maps.
 *
 * A rectilinear grid; a figure of revolution is its section, the radius along x and the height along y, (x, y, z) stays as it is. Extents
 * are given slowest axis first, as in the data sets; values belong to cells. One grid a stored time, its fields as a slab (start, stride,
 * count) of the growing set; maps are attached to each. */
#ifndef LASTWATER_XDMF_H
#define LASTWATER_XDMF_H

#include "io/status.h"

#define XDMF_NAME "fields.xdmf"

/* Reads which data sets are in `fields_path` (a finished file of fields) and writes `path`, which will refer to them in a file called
 * `fields_name` beside it. Whole or absent. */
status xdmf_write(const char *path, const char *fields_path, const char *fields_name, message *msg);

#endif
