#include "io/page_rig.h"

#include "io/page_json.h"
#include "io/picture_panel.h"

static void write_part(FILE *to, const rig *r, size_t part)
{
  const rig_part *p = &r->parts[part];
  fputs("{\"name\":", to);
  page_json_text(to, p->name);
  fprintf(to, ",\"look\":\"%s\"", picture_panel_part_look(r, (int)part));
  if (p->stuff && p->kind == PART_SOLID) {
    fputs(",\"material\":", to);
    page_json_text(to, p->stuff->name);
  }
  if (p->cavity && p->thickness > 0.0)
    fprintf(to, ",\"wall\":%.6g", p->thickness);
  fputc('}', to);
}

static void write_coil(FILE *to, const rig_coil *c)
{
  fputs("{\"name\":", to);
  page_json_text(to, c->name);
  fprintf(to, ",\"tube\":%.6g,\"rings\":[", c->tube_outer);
  for (size_t i = 0; i < c->num_rings; i++)
    fprintf(to, "%s[%.6g,%.6g]", i ? "," : "", c->rings[i][0], c->rings[i][1]);
  fputs("],\"points\":[", to);
  for (size_t i = 0; i < c->num_points; i++)
    fprintf(to, "%s[%.5g,%.5g,%.5g]", i ? "," : "", c->points[i][0], c->points[i][1], c->points[i][2]);
  fputs("]}", to);
}

void page_rig_write(FILE *to, const rig *r)
{
  fputs(",\"parts\":[", to);
  for (size_t i = 0; i < r->num_parts; i++) {
    fputs(i ? "," : "", to);
    write_part(to, r, i);
  }
  fputs("],\"bodies\":[", to);
  for (size_t i = 0; i < r->num_bodies; i++) {
    fputs(i ? ",{\"name\":" : "{\"name\":", to);
    page_json_text(to, r->bodies[i].name);
    fprintf(to, ",\"part\":%d,\"open_top\":%s}", r->bodies[i].part, r->bodies[i].open_top ? "true" : "false");
  }
  fputs("],\"coils\":[", to);
  for (size_t i = 0; i < r->num_coils; i++) {
    fputs(i ? "," : "", to);
    write_coil(to, &r->coils[i]);
  }
  fputs("],\"probes\":[", to);
  for (size_t i = 0; i < r->num_probes; i++) {
    fputs(i ? ",{\"name\":" : "{\"name\":", to);
    page_json_text(to, r->probes[i].name);
    fputs(",\"point\":", to);
    page_json_numbers(to, r->probes[i].point, 3);
    fputc('}', to);
  }
  fputs("],\"site_pressure\":", to);
  page_json_number(to, r->room.pressure);
}
