/* The room: air, floor, pressure at the site. */
#include "io/case_build.h"

/* A day's swing about the temperatures given; hours of the day count from midnight. */
static void read_swing(const case_build *b, const yaml_node *map, schedule *t)
{
  static const double DAY = 86400.0; /* s */
  double begins = 0.0, warmest = 0.0;
  if (!case_build_has(map, "swing") || !case_build_quantity(b, map, SECTION_ROOM, "swing", &t->swing))
    return;
  if (case_build_quantity(b, map, SECTION_ROOM, "warmest_at", &warmest) && case_build_quantity(b, map, SECTION_ROOM, "begins_at", &begins))
    t->peak = warmest - begins;
  if (warmest > DAY)
    case_build_fault(b, map, "warmest_at", "room.warmest_at: the hour of the day is asked, 0 to 24 h after midnight, for instance 15 h");
  if (begins > DAY)
    case_build_fault(b, map, "begins_at", "room.begins_at: the hour of the day is asked, 0 to 24 h after midnight, for instance 8 h");
}

status case_room_build(case_build *b)
{
  rig_room *room = &b->c->rig.room;
  const yaml_node *map = yaml_tree_value(b->c->tree, "room");
  const char *pressure = case_build_text(map, SECTION_ROOM, "pressure");
  quantity q;
  (void)case_build_quantity(b, map, SECTION_ROOM, "humidity", &room->relative_humidity);
  (void)case_build_quantity(b, map, SECTION_ROOM, "film", &room->film);
  if (pressure && quantity_parse(b->units, QUANTITY_PRESSURE, pressure, &q, NULL) == STATUS_OK) {
    room->pressure = q.value;
    if (q.gauge)
      case_build_fault(b, map, "pressure", "room.pressure: a gauge reads against the air, so the air's own pressure must be absolute");
    else if (q.value < 5e4 || q.value > 1.1e5)
      case_build_fault(b, map, "pressure", "room.pressure: %.4g hPa; between 500 and 1100 hPa(a) is accepted", q.value / 100.0);
  }
  status code = case_build_schedule(b, map, SECTION_ROOM, "temperature", &room->temperature);
  if (code == STATUS_OK)
    code = case_build_schedule(b, map, SECTION_ROOM, "floor_temperature", &room->floor_temperature);
  if (code == STATUS_OK && !room->temperature.num) /* faulty: the builders that follow need some value */
    code = case_build_constant(b, 20.0, &room->temperature);
  read_swing(b, map, &room->temperature);
  return code;
}
