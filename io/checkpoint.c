#include "io/checkpoint.h"

#include <stdlib.h>
#include <string.h>

#include "io/h5_file.h"
#include "io/whole_file.h"

enum { CHUNK_ELEMENTS = 1 << 17 };
static const char PROGRAM[] = "lastwater " LASTWATER_VERSION;

static hid_t memory_type(field_type type)
{
  return type == FIELD_DOUBLE ? H5T_NATIVE_DOUBLE : type == FIELD_INT64 ? H5T_NATIVE_INT64 : H5T_NATIVE_UCHAR;
}

static hid_t stored_type(field_type type)
{
  return type == FIELD_DOUBLE ? H5T_IEEE_F64LE : type == FIELD_INT64 ? H5T_STD_I64LE : H5T_STD_U8LE;
}

static const char *byte_order(void)
{
  return H5Tget_order(H5T_NATIVE_INT) == H5T_ORDER_LE ? "little" : "big";
}

/* ------------------------------------------------------------------------------------------------ writing */

static bool write_array(hid_t where, const char *name, const char *unit, field_type type, size_t count, const void *data)
{
  const h5_file_layout l = {.name = name,
                            .units = unit,
                            .stored_type = stored_type(type),
                            .memory_type = memory_type(type),
                            .rank = 1,
                            .extent = {count},
                            .chunk = {count < CHUNK_ELEMENTS ? (count ? count : 1) : CHUNK_ELEMENTS},
                            .checked = true};
  return h5_file_write_set(where, &l, data);
}

static bool write_header(hid_t file, const checkpoint_header *h)
{
  return h5_file_put_integer(file, ".", "format", CHECKPOINT_FORMAT) && h5_file_put_text(file, ".", "program", PROGRAM) &&
         h5_file_put_text(file, ".", "byte_order", byte_order()) &&
         h5_file_put_integer(file, ".", "sizeof_double", (long long)sizeof(double)) &&
         h5_file_put_integer(file, ".", "sizeof_event", (long long)sizeof(run_event)) &&
         h5_file_put_text(file, ".", "case_hash", h->case_hash) &&
         h5_file_put_integer(file, ".", "num_rows", (long long)h->num_rows) &&
         h5_file_put_integer(file, ".", "num_events", (long long)h->num_events) &&
         h5_file_put_integer(file, ".", "num_times", (long long)h->num_times) && write_array(file, "wall", "s", FIELD_DOUBLE, 1, &h->wall);
}

/* The pieces go as pairs (offset, length). */
static bool write_mark(hid_t file, const file_mark *mark)
{
  return h5_file_group(file, "/fields") && h5_file_put_integer(file, "/fields", "file_size", (long long)mark->file_size) &&
         write_array(file, "/fields/pieces", NULL, FIELD_INT64, 2 * mark->num_pieces, mark->pieces) &&
         write_array(file, "/fields/bytes", NULL, FIELD_BYTES, mark->num_bytes, mark->bytes);
}

static bool write_state(hid_t file, const state_field *fields, size_t num_fields)
{
  const hid_t group = h5_file_group(file, "/state") ? H5Gopen2(file, "/state", H5P_DEFAULT) : -1;
  bool ok = group >= 0;
  for (size_t i = 0; ok && i < num_fields; i++)
    ok = write_array(group, fields[i].name, fields[i].unit, fields[i].type, fields[i].count, fields[i].data);
  return ok && H5Gclose(group) >= 0; /* when not ok, closing the file closes the group */
}

status checkpoint_write(const char *path, const checkpoint_header *h, const state_field *fields, size_t num_fields, message *msg)
{
  char temporary[WHOLE_FILE_PATH];
  hid_t file = -1;
  if ((size_t)snprintf(temporary, sizeof temporary, "%s.tmp", path) >= sizeof temporary)
    return message_set(msg, STATUS_FILE, "cannot write %s: the path is too long; choose a shorter one with -o DIR", path);
  status code = h5_file_create(&file, temporary, msg);
  if (code != STATUS_OK)
    return code;
  if (!(write_header(file, h) && write_mark(file, &h->fields) && write_state(file, fields, num_fields) && h5_file_close(&file)))
    code = h5_file_fault(msg, "write", path);
  if (file >= 0)
    (void)H5Fclose(file);
  if (code == STATUS_OK)
    code = whole_file_rename(temporary, path, msg);
  if (code != STATUS_OK)
    (void)whole_file_remove(temporary, NULL);
  return code;
}

/* ------------------------------------------------------------------------------------------------ reading */

/* Opens a one-dimensional set and tells its length; -1 when it is not there or is of another type. */
static hid_t open_array(hid_t where, const char *name, field_type type, size_t *count)
{
  const hid_t set = H5Dopen2(where, name, H5P_DEFAULT);
  const hid_t space = set < 0 ? -1 : H5Dget_space(set);
  const hid_t have = space < 0 ? -1 : H5Dget_type(set);
  hsize_t extent = 0;
  const bool ok = have >= 0 && H5Tequal(have, stored_type(type)) > 0 && H5Sget_simple_extent_ndims(space) == 1 &&
                  H5Sget_simple_extent_dims(space, &extent, NULL) == 1;
  if (have >= 0)
    (void)H5Tclose(have);
  if (space >= 0)
    (void)H5Sclose(space);
  if (!ok && set >= 0)
    (void)H5Dclose(set);
  *count = (size_t)extent;
  return ok ? set : -1;
}

/* Reads a set of exactly `count` elements. */
static bool read_array(hid_t where, const char *name, field_type type, size_t count, void *data)
{
  size_t have = 0;
  const hid_t set = open_array(where, name, type, &have);
  const bool ok = set >= 0 && have == count && (count == 0 || H5Dread(set, memory_type(type), H5S_ALL, H5S_ALL, H5P_DEFAULT, data) >= 0);
  if (set >= 0)
    (void)H5Dclose(set);
  return ok;
}

static bool array_length(hid_t where, const char *name, field_type type, size_t *count)
{
  const hid_t set = open_array(where, name, type, count);
  if (set >= 0)
    (void)H5Dclose(set);
  return set >= 0;
}

/* "another program, format, machine or case": each told apart. */
static status check_origin(hid_t file, const char *path, const char *case_hash, message *msg)
{
  long long format = 0, size_double = 0, size_event = 0;
  char program[128] = "", order[16] = "", hash[64] = "";
  if (!h5_file_get_integer(file, ".", "format", &format))
    return message_set(msg, STATUS_FILE, "cannot continue from %s: it is no checkpoint; run again without --resume", path);
  if (format != CHECKPOINT_FORMAT)
    return message_set(msg, STATUS_FILE,
                       "cannot continue from %s: it has format %lld and this program reads %d; run again without --resume", path, format,
                       CHECKPOINT_FORMAT);
  if (!h5_file_get_text(file, ".", "program", program, sizeof program) || !h5_file_get_text(file, ".", "byte_order", order, sizeof order) ||
      !h5_file_get_integer(file, ".", "sizeof_double", &size_double) || !h5_file_get_integer(file, ".", "sizeof_event", &size_event) ||
      !h5_file_get_text(file, ".", "case_hash", hash, sizeof hash))
    return message_set(msg, STATUS_FILE, "cannot continue from %s: its header is incomplete; run again without --resume", path);
  if (strcmp(program, PROGRAM) != 0)
    return message_set(msg, STATUS_FILE,
                       "cannot continue from %s: it was written by %s and this is %s; continue with that one, or run again without --resume",
                       path, program, PROGRAM);
  if (strcmp(order, byte_order()) != 0 || size_double != (long long)sizeof(double) || size_event != (long long)sizeof(run_event))
    return message_set(msg, STATUS_FILE, "cannot continue from %s: it was written on another kind of machine; run again without --resume",
                       path);
  if (strcmp(hash, case_hash) != 0)
    return message_set(msg, STATUS_FILE, "cannot continue from %s: it belongs to another case; choose another directory with -o DIR", path);
  return STATUS_OK;
}

static bool read_counts(hid_t file, checkpoint_header *h)
{
  long long rows, events, times;
  if (!h5_file_get_integer(file, ".", "num_rows", &rows) || !h5_file_get_integer(file, ".", "num_events", &events) ||
      !h5_file_get_integer(file, ".", "num_times", &times) || rows < 0 || events < 0 || times < 0)
    return false;
  h->num_rows = (size_t)rows;
  h->num_events = (size_t)events;
  h->num_times = (size_t)times;
  return read_array(file, "wall", FIELD_DOUBLE, 1, &h->wall);
}

/* Whether the pieces rise, stay inside the file, and are as long as the bytes. */
static bool mark_is_sound(const file_mark *mark)
{
  uint64_t at = 0, sum = 0;
  for (size_t i = 0; i < mark->num_pieces; i++) {
    const file_range *p = &mark->pieces[i];
    if (p->offset < at || p->length > mark->file_size || p->offset > mark->file_size - p->length)
      return false;
    at = p->offset + p->length;
    sum += p->length;
  }
  return sum == mark->num_bytes;
}

static bool read_mark(hid_t file, file_mark *mark)
{
  long long size = 0;
  size_t num_numbers = 0;
  if (!h5_file_get_integer(file, "/fields", "file_size", &size) || size < 0 ||
      !array_length(file, "/fields/pieces", FIELD_INT64, &num_numbers) || num_numbers % 2 ||
      !array_length(file, "/fields/bytes", FIELD_BYTES, &mark->num_bytes))
    return false;
  mark->file_size = (uint64_t)size;
  mark->num_pieces = num_numbers / 2;
  mark->pieces = malloc((mark->num_pieces + 1) * sizeof *mark->pieces);
  mark->bytes = malloc(mark->num_bytes + 1);
  return mark->pieces && mark->bytes && read_array(file, "/fields/pieces", FIELD_INT64, num_numbers, mark->pieces) &&
         read_array(file, "/fields/bytes", FIELD_BYTES, mark->num_bytes, mark->bytes) && mark_is_sound(mark);
}

static status fault_of_damage(message *msg, const char *path, const char *what)
{
  return message_set(msg, STATUS_FILE, "cannot continue from %s: %s is missing or damaged; run again without --resume", path, what);
}

static status open_to_continue(hid_t *file, const char *path, message *msg)
{
  message why = {""};
  if (h5_file_open(file, path, false, &why) == STATUS_OK)
    return STATUS_OK;
  return message_set(msg, STATUS_FILE, "%s; run again without --resume", why.text);
}

status checkpoint_read_header(const char *path, const char *case_hash, checkpoint_header *h, message *msg)
{
  *h = (checkpoint_header){0};
  hid_t file = -1;
  status code = open_to_continue(&file, path, msg);
  if (code != STATUS_OK)
    return code;
  code = check_origin(file, path, case_hash, msg);
  if (code == STATUS_OK && !read_counts(file, h))
    code = fault_of_damage(msg, path, "its header");
  if (code == STATUS_OK && !read_mark(file, &h->fields))
    code = fault_of_damage(msg, path, "its mark in the fields");
  (void)H5Fclose(file);
  if (code == STATUS_OK)
    (void)snprintf(h->case_hash, sizeof h->case_hash, "%s", case_hash);
  else
    checkpoint_release_header(h);
  return code;
}

void checkpoint_release_header(checkpoint_header *h)
{
  file_mark_release(&h->fields);
  *h = (checkpoint_header){0};
}

static status check_fields(hid_t file, const char *path, const state_field *fields, size_t num_fields, message *msg)
{
  H5G_info_t info;
  if (H5Gget_info_by_name(file, "/state", &info, H5P_DEFAULT) < 0)
    return fault_of_damage(msg, path, "its state");
  for (size_t i = 0; i < num_fields; i++) {
    char name[128];
    size_t count = 0;
    (void)snprintf(name, sizeof name, "/state/%s", fields[i].name);
    if (!array_length(file, name, fields[i].type, &count))
      return fault_of_damage(msg, path, fields[i].name);
    if (count != fields[i].count)
      return message_set(msg, STATUS_FILE,
                         "cannot continue from %s: %s has %zu values and this run needs %zu; run again without --resume", path,
                         fields[i].name, count, fields[i].count);
  }
  if (info.nlinks != num_fields)
    return message_set(msg, STATUS_FILE,
                       "cannot continue from %s: it has %llu arrays and this run knows %zu; run again without --resume", path,
                       (unsigned long long)info.nlinks, num_fields);
  return STATUS_OK;
}

status checkpoint_read_state(const char *path, const state_field *fields, size_t num_fields, message *msg)
{
  hid_t file = -1;
  status code = open_to_continue(&file, path, msg);
  if (code != STATUS_OK)
    return code;
  code = check_fields(file, path, fields, num_fields, msg);
  for (size_t i = 0; code == STATUS_OK && i < num_fields; i++) {
    char name[128];
    (void)snprintf(name, sizeof name, "/state/%s", fields[i].name);
    if (!read_array(file, name, fields[i].type, fields[i].count, fields[i].data))
      code = fault_of_damage(msg, path, fields[i].name);
  }
  (void)H5Fclose(file);
  return code;
}
