/* Mains water by month: the user's own table. Each month has one temperature; it is not spread between the months. */
#include "io/case_build.h"

static const char *const MONTHS[] = {"january", "february", "march",     "april",   "may",      "june",
                                     "july",    "august",   "september", "october", "november", "december"};

bool case_mains_temperature(const case_build *b, const yaml_node *map, case_section section, double *out)
{
  const yaml_node *mains = yaml_tree_value(b->c->tree, "mains");
  const bool own = map && section == SECTION_STAGE && case_build_has(map, "month");
  if (!mains && own)
    case_build_fault(b, map, "month", "there is no table of mains water: give one, for instance mains: {month: november, november: 8 C, june: 15 C}");
  if (!mains || !case_build_is_sound(b, mains))
    return false;
  const int month = own ? case_build_choice(map, section, "month") : case_build_choice(mains, SECTION_MAINS, "month");
  if (month < 0)
    return false;
  if (!case_build_has(mains, MONTHS[month])) {
    case_build_fault(b, own ? map : mains, "month", "mains: the table has no temperature for %s", MONTHS[month]);
    return false;
  }
  return case_build_quantity(b, mains, SECTION_MAINS, MONTHS[month], out);
}
