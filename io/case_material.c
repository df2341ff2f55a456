#include "io/case_build.h"

#include <string.h>

static const material *keep(case_build *b, status code, material *m, const yaml_node *at, const char *what, const message *why)
{
  if (code == STATUS_OK)
    return case_store_material(b->c->store, m, b->msg);
  if (code == STATUS_NO_MEMORY)
    (void)message_set(b->msg, code, "%s", why->text);
  else
    fault_add(b->faults, at->at, "%s: %s", what, why->text);
  return NULL;
}

static const material *from_table(case_build *b, const yaml_node *figures, const char *what)
{
  const yaml_node *rows = yaml_tree_value(figures, "table");
  message why = {""};
  material m = {0};
  material_table t = {.num_rows = rows->num};
  if (!case_build_quantity(b, figures, SECTION_MATERIAL, "density", &t.density)) {
    case_build_fault(b, figures, NULL, "%s: a table of figures needs a density too", what);
    return NULL;
  }
  (void)case_build_quantity(b, figures, SECTION_MATERIAL, "latent_heat", &t.latent_heat);
  double *columns = case_store_array(b->c->store, 4 * rows->num, sizeof *columns, b->msg);
  if (!columns)
    return NULL;
  static const quantity_kind kinds[4] = {QUANTITY_TEMPERATURE, QUANTITY_CONDUCTIVITY, QUANTITY_VOLUMETRIC_HEAT, QUANTITY_SHARE};
  for (size_t row = 0; row < rows->num; row++)
    for (size_t i = 0; i < 4; i++)
      if (!case_build_number(b, kinds[i], rows->items[row]->items[i], &columns[i * rows->num + row]))
        return NULL;
  t.temperature = columns;
  t.conductivity = columns + rows->num;
  t.volumetric_heat_capacity = columns + 2 * rows->num;
  t.liquid_fraction = columns + 3 * rows->num;
  const status code = material_from_table(&m, what, &t, &why);
  return keep(b, code, &m, rows, what, &why);
}

const material *case_material_from_map(case_build *b, const yaml_node *figures, const char *what)
{
  double k = 0.0, density = 0.0, c = 0.0;
  message why = {""};
  material m = {0};
  if (!case_build_is_sound(b, figures))
    return NULL;
  if (case_build_has(figures, "table")) {
    if (case_build_has(figures, "conductivity") || case_build_has(figures, "specific_heat")) {
      case_build_fault(b, figures, "table", "%s: give a table, or constant figures, not both", what);
      return NULL;
    }
    return from_table(b, figures, what);
  }
  if (!case_build_quantity(b, figures, SECTION_MATERIAL, "conductivity", &k) ||
      !case_build_quantity(b, figures, SECTION_MATERIAL, "density", &density) ||
      !case_build_quantity(b, figures, SECTION_MATERIAL, "specific_heat", &c)) {
    case_build_fault(b, figures, NULL, "%s: give conductivity, density and specific_heat, or a table and a density", what);
    return NULL;
  }
  return keep(b, material_constant(&m, what, k, density, c, &why), &m, figures, what, &why);
}

const material *case_material_build(case_build *b, const yaml_node *map, case_section section, const char *what, const char **solid)
{
  const yaml_node *value = yaml_tree_value(map, "material");
  message why = {""};
  material m = {0};
  *solid = NULL;
  if (value && value->kind == YAML_MAP)
    return case_material_from_map(b, value, what);
  const char *name = case_build_text(map, section, "material");
  if (!name)
    return NULL;
  const material *kept = keep(b, material_solid(&m, name, &why), &m, value ? value : map, what, &why);
  *solid = kept ? name : NULL;
  return kept;
}
