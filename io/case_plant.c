/* The plant: compressors in parallel, condenser, switches. */
#include <math.h>

#include "io/case_build.h"
#include "materials/refrigerant.h"

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

static void read_plate(const case_build *b, const yaml_node *item, refrigerant_kind plant, rig_compressor *out)
{
  const int made_for = case_build_choice(item, SECTION_COMPRESSOR, "made_for");
  out->made_for = made_for < 0 ? plant : (refrigerant_kind)made_for;
  out->made_for_other = out->made_for != plant;
  (void)case_build_quantity(b, item, SECTION_COMPRESSOR, "running_current", &out->running_current);
  (void)case_build_quantity(b, item, SECTION_COMPRESSOR, "starting_current", &out->starting_current);
}

/* Condensing temperature, high-pressure switch and what else has a limit. */
static void read_high_side(const case_build *b, const yaml_node *map, rig_plant *p)
{
  static const double USUAL_LIMIT = 60.0; /* degC */
  static const char *const ways[] = {"condensing", "condenser", "discharge"};
  const double site = b->c->rig.room.pressure;
  const int way = case_build_one_of(b, map, "plant", ways, 3);
  double gauge = 0.0;
  if (way == 2 && case_build_pressure(b, map, SECTION_PLANT, "discharge", site, &gauge))
    p->condensing_temperature = refrigerant_temperature(p->refrigerant, REFRIGERANT_DEW, site + gauge);
  else if (way == 0 || way == 1)
    (void)case_build_quantity(b, map, SECTION_PLANT, ways[way], way == 0 ? &p->condensing_temperature : &p->condenser_conductance);
  if (way == 2 && isnan(p->condensing_temperature))
    case_build_fault(b, map, "discharge", "plant.discharge: %s has no saturation between -60 and 65 degC at %.3g bar(g)", refrigerant_name(p->refrigerant), gauge / 1e5);
  if (!isnan(p->condensing_temperature) && (p->condensing_temperature < 10.0 || p->condensing_temperature > 65.0))
    case_build_fault(b, map, ways[way], "plant.%s: condensing at %.4g degC; between 10 and 65 degC is accepted", ways[way], p->condensing_temperature);
  p->high_cutout_gauge = refrigerant_pressure(p->refrigerant, REFRIGERANT_DEW, USUAL_LIMIT) - site;
  if (case_build_has(map, "high_cutout") && case_build_pressure(b, map, SECTION_PLANT, "high_cutout", site, &p->high_cutout_gauge)) {
    const double limit = refrigerant_temperature(p->refrigerant, REFRIGERANT_DEW, site + p->high_cutout_gauge);
    if (!(limit >= 20.0))
      case_build_fault(b, map, "high_cutout", "plant.high_cutout: %.3g bar(g) of %s; from 20 to 65 degC is accepted, that is %.3g to %.3g bar(g)",
                       p->high_cutout_gauge / 1e5, refrigerant_name(p->refrigerant),
                       (refrigerant_pressure(p->refrigerant, REFRIGERANT_DEW, 20.0) - site) / 1e5,
                       (refrigerant_pressure(p->refrigerant, REFRIGERANT_DEW, 65.0) - site) / 1e5);
  }
  (void)case_build_quantity(b, map, SECTION_PLANT, "condenser_lag", &p->condenser_lag);
  (void)case_build_quantity(b, map, SECTION_PLANT, "hottest_gas", &p->hottest_gas);
  (void)case_build_quantity(b, map, SECTION_PLANT, "reversing_coil", &p->reversing_conductance);
}

static void read_mains(const case_build *b, const yaml_node *map, rig_plant *p)
{
  (void)case_build_quantity(b, map, SECTION_PLANT, "voltage", &p->voltage);
  (void)case_build_quantity(b, map, SECTION_PLANT, "socket", &p->socket_limit);
  (void)case_build_quantity(b, map, SECTION_PLANT, "tariff", &p->tariff);
  p->evens_out = case_build_choice(map, SECTION_PLANT, "expansion") == 1;
  p->staggered_start = case_build_choice(map, SECTION_PLANT, "start") != 0;
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
  for (size_t i = 0; i < list->num; i++) {
    read_plate(b, list->items[i], p->refrigerant, &p->compressors[p->num_compressors]);
    make_compressor(b, list->items[i], &p->compressors[p->num_compressors++]);
  }
  read_high_side(b, map, p);
  read_mains(b, map, p);
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
  p->switch_off = case_build_flag(map, SECTION_PLANT, "switch_off");
  make_thermostat(b, yaml_tree_value(map, "thermostat"), p);
  if (!any_coil_needs_it(b))
    case_build_fault(b, b->c->tree, "plant", "plant: every coil has a \"refrigerant_temperature\" of its own, so the plant drives none; "
                                             "take it out of a coil, or leave the plant out");
  return STATUS_OK;
}
