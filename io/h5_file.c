#include "io/h5_file.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/whole_file.h"

enum { DEFLATE_LEVEL = 4, CHUNK_BYTES = 1 << 20 };

void h5_file_begin(void)
{
  (void)H5dont_atexit(); /* fails harmlessly the second time */
  (void)H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
}

/* Others may read a growing file: whoever does must be ready to try again. */
static hid_t access_list(void)
{
  const hid_t list = H5Pcreate(H5P_FILE_ACCESS);
  if (list >= 0) {
    (void)H5Pset_libver_bounds(list, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18);
    (void)H5Pset_fclose_degree(list, H5F_CLOSE_STRONG);
    (void)H5Pset_file_locking(list, 0, 1);
  }
  return list;
}

status h5_file_create(hid_t *file, const char *path, message *msg)
{
  h5_file_begin();
  const hid_t list = access_list();
  *file = list < 0 ? -1 : H5Fcreate(path, H5F_ACC_TRUNC, H5P_DEFAULT, list);
  const status code = *file < 0 ? h5_file_fault(msg, "write", path) : STATUS_OK;
  if (list >= 0)
    (void)H5Pclose(list);
  return code;
}

status h5_file_open(hid_t *file, const char *path, bool to_write, message *msg)
{
  h5_file_begin();
  const hid_t list = access_list();
  *file = list < 0 ? -1 : H5Fopen(path, to_write ? H5F_ACC_RDWR : H5F_ACC_RDONLY, list);
  const status code = *file < 0 ? h5_file_fault(msg, "read", path) : STATUS_OK;
  if (list >= 0)
    (void)H5Pclose(list);
  return code;
}

/* Every call of the library forgets the reason of the failure before it; these keep it over the closing that follows. */
static hid_t hold_reason(bool ok)
{
  return ok ? -1 : H5Eget_current_stack();
}

static void give_back_reason(hid_t held)
{
  if (held >= 0)
    (void)H5Eset_current_stack(held);
}

bool h5_file_close(hid_t *file)
{
  const bool flushed = H5Fflush(*file, H5F_SCOPE_GLOBAL) >= 0;
  const hid_t held = hold_reason(flushed);
  const bool closed = H5Fclose(*file) >= 0;
  *file = -1;
  give_back_reason(held);
  return flushed && closed;
}

/* ------------------------------------------------------------------------------------------------ faults */

typedef struct {
  int error;         /* the system's error number, 0 if none was named */
  char reason[160];  /* the innermost description                      */
} fault_found;

/* The library's text of a failed write holds a clock time, addresses and line ends: only the error number in it is of use. */
static herr_t look_for_reason(unsigned depth, const H5E_error2_t *frame, void *data)
{
  fault_found *found = data;
  if (!frame->desc)
    return 0;
  if (depth == 0)
    (void)snprintf(found->reason, sizeof found->reason, "%s", frame->desc);
  const char *at = strstr(frame->desc, "errno = ");
  if (at && !found->error)
    found->error = atoi(at + strlen("errno = "));
  if (strstr(frame->desc, "truncated file"))
    (void)snprintf(found->reason, sizeof found->reason, "the file is cut short");
  else if (strstr(frame->desc, "unable to find a valid file signature") || strstr(frame->desc, "not an HDF5 file") ||
           strstr(frame->desc, "file signature not found"))
    (void)snprintf(found->reason, sizeof found->reason, "it is not an HDF5 file, or its beginning is damaged");
  return 0;
}

status h5_file_fault(message *msg, const char *doing, const char *path)
{
  fault_found found = {0, "the HDF5 library gives no reason"};
  (void)H5Ewalk2(H5E_DEFAULT, H5E_WALK_UPWARD, look_for_reason, &found);
  if (found.error)
    return whole_file_fault(msg, doing, path, found.error);
  found.reason[strcspn(found.reason, "\n")] = '\0';
  return message_set(msg, STATUS_FILE, "cannot %s %s: %s", doing, path, found.reason);
}

/* ------------------------------------------------------------------------------------------------ groups, attributes */

bool h5_file_group(hid_t where, const char *name)
{
  const hid_t list = H5Pcreate(H5P_LINK_CREATE);
  bool ok = list >= 0 && H5Pset_create_intermediate_group(list, 1) >= 0;
  const hid_t group = ok ? H5Gcreate2(where, name, list, H5P_DEFAULT, H5P_DEFAULT) : -1;
  ok = group >= 0 && H5Gclose(group) >= 0;
  const hid_t held = hold_reason(ok);
  if (list >= 0)
    (void)H5Pclose(list);
  give_back_reason(held);
  return ok;
}

static bool put_attribute(hid_t where, const char *object, const char *name, hid_t stored, hid_t memory, const void *value)
{
  const hid_t space = H5Screate(H5S_SCALAR);
  const hid_t attribute =
      space < 0 ? -1 : H5Acreate_by_name(where, object, name, stored, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
  const bool ok = attribute >= 0 && H5Awrite(attribute, memory, value) >= 0;
  const hid_t held = hold_reason(ok);
  if (attribute >= 0)
    (void)H5Aclose(attribute);
  if (space >= 0)
    (void)H5Sclose(space);
  give_back_reason(held);
  return ok;
}

bool h5_file_put_text(hid_t where, const char *object, const char *name, const char *text)
{
  const hid_t type = H5Tcopy(H5T_C_S1);
  bool ok = type >= 0 && H5Tset_size(type, strlen(text) + 1) >= 0 && H5Tset_cset(type, H5T_CSET_UTF8) >= 0;
  ok = ok && put_attribute(where, object, name, type, type, text);
  const hid_t held = hold_reason(ok);
  if (type >= 0)
    (void)H5Tclose(type);
  give_back_reason(held);
  return ok;
}

bool h5_file_put_integer(hid_t where, const char *object, const char *name, long long value)
{
  return put_attribute(where, object, name, H5T_STD_I64LE, H5T_NATIVE_LLONG, &value);
}

bool h5_file_get_text(hid_t where, const char *object, const char *name, char *text, size_t size)
{
  const hid_t attribute = H5Aopen_by_name(where, object, name, H5P_DEFAULT, H5P_DEFAULT);
  const hid_t type = attribute < 0 ? -1 : H5Aget_type(attribute);
  const size_t length = type < 0 ? 0 : H5Tget_size(type);
  const bool fits = type >= 0 && H5Tget_class(type) == H5T_STRING && H5Tis_variable_str(type) == 0 && length < size;
  const bool ok = fits && H5Aread(attribute, type, text) >= 0;
  if (ok)
    text[length] = '\0';
  if (type >= 0)
    (void)H5Tclose(type);
  if (attribute >= 0)
    (void)H5Aclose(attribute);
  return ok;
}

bool h5_file_get_integer(hid_t where, const char *object, const char *name, long long *value)
{
  const hid_t attribute = H5Aopen_by_name(where, object, name, H5P_DEFAULT, H5P_DEFAULT);
  const bool ok = attribute >= 0 && H5Aread(attribute, H5T_NATIVE_LLONG, value) >= 0;
  if (attribute >= 0)
    (void)H5Aclose(attribute);
  return ok;
}

/* ------------------------------------------------------------------------------------------------ data sets */

hsize_t h5_file_chunk_rows(hsize_t rows, size_t row_bytes)
{
  const hsize_t most = row_bytes >= CHUNK_BYTES || row_bytes == 0 ? 1 : CHUNK_BYTES / row_bytes;
  if (rows <= most)
    return rows ? rows : 1;
  const hsize_t num_chunks = (rows + most - 1) / most;
  return (rows + num_chunks - 1) / num_chunks;
}

static hid_t creation_list(const h5_file_layout *l)
{
  const hid_t list = H5Pcreate(H5P_DATASET_CREATE);
  bool ok = list >= 0;
  if (H5Tget_class(l->stored_type) == H5T_FLOAT) {
    const double missing = NAN;
    ok = ok && H5Pset_fill_value(list, H5T_NATIVE_DOUBLE, &missing) >= 0;
  }
  if (l->chunk[0])
    ok = ok && H5Pset_chunk(list, l->rank, l->chunk) >= 0;
  if (l->chunk[0] && l->compressed)
    ok = ok && H5Pset_shuffle(list) >= 0 && H5Pset_deflate(list, DEFLATE_LEVEL) >= 0;
  if (l->chunk[0] && l->checked)
    ok = ok && H5Pset_fletcher32(list) >= 0;
  if (!ok && list >= 0) {
    (void)H5Pclose(list);
    return -1;
  }
  return list;
}

hid_t h5_file_create_set(hid_t where, const h5_file_layout *l)
{
  hsize_t most[4];
  for (int axis = 0; axis < l->rank; axis++)
    most[axis] = axis == 0 && l->growing ? H5S_UNLIMITED : l->extent[axis];
  const hid_t space = H5Screate_simple(l->rank, l->extent, most);
  const hid_t list = creation_list(l);
  hid_t set = space < 0 || list < 0 ? -1 : H5Dcreate2(where, l->name, l->stored_type, space, H5P_DEFAULT, list, H5P_DEFAULT);
  const bool ok = set >= 0 && (!l->units || h5_file_put_text(set, ".", "units", l->units)) &&
                  (!l->long_name || h5_file_put_text(set, ".", "long_name", l->long_name));
  const hid_t held = hold_reason(ok);
  if (!ok && set >= 0) {
    (void)H5Dclose(set);
    set = -1;
  }
  if (list >= 0)
    (void)H5Pclose(list);
  if (space >= 0)
    (void)H5Sclose(space);
  give_back_reason(held);
  return set;
}

bool h5_file_close_set(hid_t *set)
{
  const bool ok = *set >= 0 && H5Dclose(*set) >= 0;
  *set = -1;
  return ok;
}

bool h5_file_write_set(hid_t where, const h5_file_layout *l, const void *data)
{
  hid_t set = h5_file_create_set(where, l);
  if (set < 0)
    return false;
  bool any = true;
  for (int axis = 0; axis < l->rank; axis++)
    any = any && l->extent[axis] > 0;
  const bool written = !any || H5Dwrite(set, l->memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, data) >= 0;
  const hid_t held = hold_reason(written);
  const bool closed = h5_file_close_set(&set);
  give_back_reason(held);
  return closed && written;
}
