#include "io/case_bags.h"

#include "materials/salt_grade.h"
#include "materials/water.h"

static const double POURED_AT = 20.0; /* degC: a volume of water is measured out of the tap or bucket */

static bool read_bag(const case_build *b, const yaml_node *bag, const char *path, salt_grade *grade, double *mass)
{
  message why = {""};
  const char *name = case_build_text(bag, SECTION_BAG, "grade");
  if (!name || !case_build_quantity(b, bag, SECTION_BAG, "mass", mass))
    return false; /* told by the table of keys */
  if (salt_grade_find(grade, name, &why) == STATUS_OK)
    return true;
  case_build_fault(b, bag, "grade", "%s: %.400s; lastwater brine --help lists the grades", path, why.text);
  return false;
}

bool case_bags_read(const case_build *b, const yaml_node *item, const char *path, brine_salt *salt, double *mass_fraction, double *mass)
{
  static const char *const amounts[] = {"volume", "mass", "level", "depth"};
  const yaml_node *list = yaml_tree_value(item, "bags");
  salt_grade grade[CASE_BAGS_MOST];
  double each[CASE_BAGS_MOST], water = 0.0;
  for (size_t i = 0; i < 4; i++)
    if (case_build_has(item, amounts[i])) {
      case_build_fault(b, item, amounts[i], "%s: \"bags\" and \"water\" say how much there is; leave \"%s\" out", path, amounts[i]);
      return false;
    }
  if (!case_build_quantity(b, item, SECTION_BATH, "water", &water)) {
    case_build_fault(b, item, "bags", "%s: say how much \"water\" the bags go into, for instance water: 57 L", path);
    return false;
  }
  if (list->kind != YAML_LIST || list->num == 0) {
    case_build_fault(b, item, "bags", "%s: \"bags\" is a list such as [{grade: CaCl2 flake 77, mass: 18 kg}]", path);
    return false;
  }
  if (list->num > CASE_BAGS_MOST) {
    case_build_fault(b, item, "bags", "%s: more than %d bags; add up those of one grade", path, CASE_BAGS_MOST);
    return false;
  }
  for (size_t i = 0; i < list->num; i++) {
    if (!read_bag(b, list->items[i], path, &grade[i], &each[i]))
      return false;
    if (grade[i].salt != grade[0].salt) {
      case_build_fault(b, list->items[i], "grade", "%s: a bath of %s and %s together is not known; one kind of salt is accepted", path,
                       brine_name(grade[0].salt), brine_name(grade[i].salt));
      return false;
    }
  }
  if (case_build_has(item, "salt") && *salt != grade[0].salt) {
    case_build_fault(b, item, "salt", "%s: the bags hold %s, not %s; leave \"salt\" out", path, brine_name(grade[0].salt), brine_name(*salt));
    return false;
  }
  water *= water_density(POURED_AT);
  *salt = grade[0].salt;
  *mass_fraction = salt_grade_strength(grade, each, list->num, water);
  *mass = water;
  for (size_t i = 0; i < list->num; i++)
    *mass += each[i];
  return true;
}
