/* The plant: compressors in parallel, condenser, switches. */
#include <math.h>

#include "io/case_build.h"

enum { PATH = 96 };

static bool read_coefficients(const case_build *b, const yaml_node *list, double out[10])
{
  for (size_t i = 0; i < 10; i++)
    if (!case_build_number(b, QUANTITY_NUMBER, list->items[i], &out[i]))
      return false;
  return true;
}

static void make_compressor(const case_build *b, const yaml_node *item, rig_compressor *out)
{
  char path[PATH];
  const bool capacity = case_build_has(item, "capacity"), power = case_build_has(item, "power");
  (void)snprintf(out->name, sizeof out->name, "%s", yaml_tree_value(item, "name")->text);
  (void)snprintf(path, sizeof path, "plant.compressors.%s", out->name);
  (void)case_build_quantity(b, item, SECTION_COMPRESSOR, "best_efficiency", &out->best_efficiency);
  if (capacity != power)
    case_build_fault(b, item, capacity ? "capacity" : "power", "%s: a rating is both \"capacity\" and \"power\"", path);
  else if (capacity && case_build_has(item, "displacement"))
    case_build_fault(b, item, "displacement", "%s: give \"displacement\", or \"capacity\" and \"power\", not both", path);
  else if (!capacity && !case_build_quantity(b, item, SECTION_COMPRESSOR, "displacement", &out->displacement))
    case_build_fault(b, item, NULL, "%s: give \"displacement\", or the maker's \"capacity\" and \"power\"", path);
  else if (capacity)
    out->has_rating = read_coefficients(b, yaml_tree_value(item, "capacity"), out->capacity) &&
                      read_coefficients(b, yaml_tree_value(item, "power"), out->power);
}

static void make_thermostat(const case_build *b, const yaml_node *map, rig_plant *out)
{
  if (!map)
    return;
  out->thermostat_part = case_build_find_rig_part(b, case_build_text(map, SECTION_THERMOSTAT, "part"));
  (void)case_build_quantity(b, map, SECTION_THERMOSTAT, "set_point", &out->set_point);
  (void)case_build_quantity(b, map, SECTION_THERMOSTAT, "differential", &out->differential);
}

static bool any_coil_needs_it(const case_build *b)
{
  for (size_t i = 0; i < b->c->rig.num_coils; i++)
    if (b->c->rig.coils[i].coolant == COOLANT_PLANT)
      return true;
  return false;
}

status case_plant_build(case_build *b)
{
  static const refrigerant_kind kinds[] = {REFRIGERANT_R290, REFRIGERANT_R134A, REFRIGERANT_R404A, REFRIGERANT_R410A, REFRIGERANT_R449A};
  static const char *const ways[] = {"condensing", "condenser"};
  const yaml_node *map = yaml_tree_value(b->c->tree, "plant");
  rig_plant *p = &b->c->rig.plant;
  p->thermostat_part = -1;
  p->condensing_temperature = NAN;
  if (!map || !case_build_is_sound(b, map))
    return STATUS_OK;
  const yaml_node *list = yaml_tree_value(map, "compressors");
  p->compressors = case_store_array(b->c->store, list->num, sizeof *p->compressors, b->msg);
  if (!p->compressors)
    return STATUS_NO_MEMORY;
  const int refrigerant = case_build_choice(map, SECTION_PLANT, "refrigerant");
  p->present = true;
  p->refrigerant = kinds[refrigerant < 0 ? 0 : refrigerant];
  for (size_t i = 0; i < list->num; i++)
    make_compressor(b, list->items[i], &p->compressors[p->num_compressors++]);
  const int way = case_build_one_of(b, map, "plant", ways, 2);
  if (way >= 0)
    (void)case_build_quantity(b, map, SECTION_PLANT, ways[way], way == 0 ? &p->condensing_temperature : &p->condenser_conductance);
  (void)case_build_quantity(b, map, SECTION_PLANT, "superheat", &p->useful_superheat);
  (void)case_build_quantity(b, map, SECTION_PLANT, "suction_superheat", &p->suction_superheat);
  (void)case_build_quantity(b, map, SECTION_PLANT, "subcooling", &p->subcooling);
  (void)case_build_quantity(b, map, SECTION_PLANT, "suction_line", &p->suction_line_loss);
  (void)case_build_quantity(b, map, SECTION_PLANT, "minimum_off", &p->minimum_off);
  (void)case_build_pressure(b, map, SECTION_PLANT, "cutout", b->c->rig.room.pressure, &p->cutout_gauge);
  (void)case_build_pressure(b, map, SECTION_PLANT, "restart", b->c->rig.room.pressure, &p->restart_gauge);
  if (!(p->restart_gauge > p->cutout_gauge))
    case_build_fault(b, map, "restart", "plant.restart: %.3g bar(g) must lie above the cut-out, %.3g bar(g)", p->restart_gauge / 1e5,
                     p->cutout_gauge / 1e5);
  if (!isnan(p->condensing_temperature) && (p->condensing_temperature < 10.0 || p->condensing_temperature > 65.0))
    case_build_fault(b, map, "condensing", "plant.condensing: %.4g degC; between 10 and 65 degC is accepted", p->condensing_temperature);
  make_thermostat(b, yaml_tree_value(map, "thermostat"), p);
  if (!any_coil_needs_it(b))
    case_build_fault(b, b->c->tree, "plant", "plant: every coil has a \"refrigerant_temperature\" of its own, so the plant drives none; "
                                             "take it out of a coil, or leave the plant out");
  return STATUS_OK;
}
