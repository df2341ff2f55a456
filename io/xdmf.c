#include "io/xdmf.h"

#include <stdlib.h>
#include <string.h>

#include "io/h5_file.h"
#include "io/whole_file.h"

/* What may be in the file, and what a viewer calls it. */
static const struct {
  const char *set, *shown;
  bool growing;
} SETS[] = {
    {"/fields/water/temperature", "water temperature [degC]", true},
    {"/fields/water/liquid_fraction", "water liquid fraction", true},
    {"/fields/rest/temperature", "rest temperature [degC]", true},
    {"/fields/rest/liquid_fraction", "rest liquid fraction", true},
    {"/maps/freeze_time", "freeze time [s]", false},
    {"/maps/solid_time", "solid time [s]", false},
    {"/maps/front_speed", "front speed [m/s]", false},
    {"/maps/pocket", "pocket", false},
};
enum { NUM_SETS = sizeof SETS / sizeof *SETS };

typedef struct {
  FILE *to;
  const char *name;        /* of the file of fields             */
  bool revolved;
  hsize_t cells[3];        /* z, y, x; no y when revolved         */
  hsize_t num_times;
  double *time;            /* [num_times] s, owned               */
  bool there[NUM_SETS];
} writer;

static bool is_there(hid_t file, const char *path)
{
  char parent[64];
  (void)snprintf(parent, sizeof parent, "%s", path);
  for (char *slash = strchr(parent + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
    *slash = '\0';
    if (H5Lexists(file, parent, H5P_DEFAULT) <= 0)
      return false;
    *slash = '/';
  }
  return H5Lexists(file, path, H5P_DEFAULT) > 0;
}

static bool read_length(hid_t file, const char *name, hsize_t *length)
{
  const hid_t set = H5Dopen2(file, name, H5P_DEFAULT);
  const hid_t space = set < 0 ? -1 : H5Dget_space(set);
  const bool ok = space >= 0 && H5Sget_simple_extent_dims(space, length, NULL) == 1;
  if (space >= 0)
    (void)H5Sclose(space);
  if (set >= 0)
    (void)H5Dclose(set);
  return ok;
}

static bool read_times(hid_t file, writer *w)
{
  if (!read_length(file, "/time", &w->num_times))
    return false;
  w->time = malloc((size_t)(w->num_times + 1) * sizeof *w->time);
  const hid_t set = w->time ? H5Dopen2(file, "/time", H5P_DEFAULT) : -1;
  const bool ok = set >= 0 && (w->num_times == 0 || H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, w->time) >= 0);
  if (set >= 0)
    (void)H5Dclose(set);
  return ok;
}

static bool look_into(hid_t file, writer *w)
{
  char kind[16] = "";
  if (!h5_file_get_text(file, "/grid", "kind", kind, sizeof kind))
    return false;
  w->revolved = strcmp(kind, "rz") == 0;
  hsize_t x = 0, y = 2, z = 0;
  const bool ok = read_length(file, w->revolved ? "/grid/r" : "/grid/x", &x) && read_length(file, "/grid/z", &z) &&
                  (w->revolved || read_length(file, "/grid/y", &y)) && read_times(file, w);
  w->cells[0] = z - 1;
  w->cells[1] = y - 1;
  w->cells[2] = x - 1;
  for (int i = 0; i < NUM_SETS; i++)
    w->there[i] = is_there(file, SETS[i].set);
  return ok;
}

/* ------------------------------------------------------------------------------------------------ writing */

static void put_edges(const writer *w, const char *set, hsize_t num)
{
  (void)fprintf(w->to, "          <DataItem Format=\"HDF\" NumberType=\"Float\" Precision=\"8\" Dimensions=\"%llu\">%s:%s</DataItem>\n",
                (unsigned long long)num, w->name, set);
}

static void put_geometry(const writer *w)
{
  const unsigned long long z = w->cells[0] + 1, y = w->cells[1] + 1, x = w->cells[2] + 1;
  if (w->revolved)
    (void)fprintf(w->to, "        <Topology TopologyType=\"2DRectMesh\" Dimensions=\"%llu %llu\"/>\n        <Geometry GeometryType=\"VXVY\">\n", z, x);
  else
    (void)fprintf(w->to, "        <Topology TopologyType=\"3DRectMesh\" Dimensions=\"%llu %llu %llu\"/>\n        <Geometry GeometryType=\"VXVYVZ\">\n",
                  z, y, x);
  put_edges(w, w->revolved ? "/grid/r" : "/grid/x", x);
  if (!w->revolved)
    put_edges(w, "/grid/y", y);
  put_edges(w, "/grid/z", z);
  (void)fprintf(w->to, "        </Geometry>\n");
}

static void say_cells(const writer *w, char text[96])
{
  const unsigned long long z = w->cells[0], y = w->cells[1], x = w->cells[2];
  if (w->revolved)
    (void)snprintf(text, 96, "%llu %llu", z, x);
  else
    (void)snprintf(text, 96, "%llu %llu %llu", z, y, x);
}

static void put_attribute(const writer *w, int set, hsize_t time)
{
  char cells[96];
  say_cells(w, cells);
  (void)fprintf(w->to, "        <Attribute Name=\"%s\" AttributeType=\"Scalar\" Center=\"Cell\">\n", SETS[set].shown);
  if (SETS[set].growing) {
    (void)fprintf(w->to, "          <DataItem ItemType=\"HyperSlab\" NumberType=\"Float\" Precision=\"4\" Dimensions=\"%s\">\n", cells);
    (void)fprintf(w->to, "            <DataItem Format=\"XML\" NumberType=\"Int\" Dimensions=\"3 %d\">%llu%s %s 1 %s</DataItem>\n",
                  w->revolved ? 3 : 4, (unsigned long long)time, w->revolved ? " 0 0" : " 0 0 0", w->revolved ? "1 1 1" : "1 1 1 1", cells);
    (void)fprintf(w->to,
                  "            <DataItem Format=\"HDF\" NumberType=\"Float\" Precision=\"4\" Dimensions=\"%llu %s\">%s:%s</DataItem>\n",
                  (unsigned long long)w->num_times, cells, w->name, SETS[set].set);
    (void)fprintf(w->to, "          </DataItem>\n");
  } else {
    (void)fprintf(w->to, "          <DataItem Format=\"HDF\" NumberType=\"Float\" Precision=\"8\" Dimensions=\"%s\">%s:%s</DataItem>\n", cells,
                  w->name, SETS[set].set);
  }
  (void)fprintf(w->to, "        </Attribute>\n");
}

static void put_all(const writer *w)
{
  (void)fprintf(w->to, "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<Xdmf Version=\"3.0\">\n  <Domain>\n");
  (void)fprintf(w->to, "    <Grid Name=\"stored times\" GridType=\"Collection\" CollectionType=\"Temporal\">\n");
  for (hsize_t time = 0; time < w->num_times; time++) {
    (void)fprintf(w->to, "      <Grid Name=\"cells\" GridType=\"Uniform\">\n        <Time Value=\"%.17g\"/>\n", w->time[time]);
    put_geometry(w);
    for (int set = 0; set < NUM_SETS; set++)
      if (w->there[set])
        put_attribute(w, set, time);
    (void)fprintf(w->to, "      </Grid>\n");
  }
  (void)fprintf(w->to, "    </Grid>\n  </Domain>\n</Xdmf>\n");
}

status xdmf_write(const char *path, const char *fields_path, const char *fields_name, message *msg)
{
  hid_t file = -1;
  status code = h5_file_open(&file, fields_path, false, msg);
  if (code != STATUS_OK)
    return code;
  writer w = {.name = fields_name};
  if (!look_into(file, &w))
    code = h5_file_fault(msg, "read", fields_path);
  (void)H5Fclose(file);
  whole_file *f = NULL;
  if (code == STATUS_OK)
    code = whole_file_open(&f, path, msg);
  if (code == STATUS_OK) {
    w.to = whole_file_stream(f);
    put_all(&w);
    code = whole_file_commit(&f, msg);
  }
  free(w.time);
  return code;
}
