/* fields.xdmf: a small XML file beside fields.h5 (the open XDMF 3 format) by which general viewers open the fields and maps.
 *
 * A rectilinear grid with z upward. A figure of revolution is shown as its section in the plane of x (the radius) and z, one point
 * thick in y. Extents are given slowest axis first, z, y, x, as in the data sets; values belong to cells. One grid a stored time;
 * maps are attached to each. */
#ifndef LASTWATER_XDMF_H
#define LASTWATER_XDMF_H

#include "io/status.h"

#define XDMF_NAME "fields.xdmf"

/* Reads which data sets are in `fields_path` (a finished file of fields) and writes `path`, which will refer to them in a file called
 * `fields_name` beside it. Whole or absent. */
status xdmf_write(const char *path, const char *fields_path, const char *fields_name, message *msg);

#endif
