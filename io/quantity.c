#include "io/quantity.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <udunits2.h>

enum { LONGEST_TEXT = 160, LONGEST_UNIT = 256, SHOWN = 60 };

struct quantity_system {
  ut_system *units;
  ut_unit *si[QUANTITY_NUM_KINDS];
};

static const struct {
  const char *name, *example, *unit;
} kinds[QUANTITY_NUM_KINDS] = {
    [QUANTITY_NUMBER] = {"a plain number", "12", ""},
    [QUANTITY_SHARE] = {"a share", "22 %", ""},
    [QUANTITY_LENGTH] = {"a length", "3 mm", "m"},
    [QUANTITY_AREA] = {"an area", "0.3 m2", "m2"},
    [QUANTITY_VOLUME] = {"a volume", "62 L", "m3"},
    [QUANTITY_MASS] = {"a mass", "18 kg", "kg"},
    [QUANTITY_TIME] = {"a time", "90 min", "s"},
    [QUANTITY_TEMPERATURE] = {"a temperature", "-12 degC", "degC"},
    [QUANTITY_DIFFERENCE] = {"a temperature difference", "3 K", "K"},
    [QUANTITY_PRESSURE] = {"a pressure, absolute or gauge,", "0.2 bar(g)", "Pa"},
    [QUANTITY_FILM] = {"a film coefficient", "8 W/m2K", "W/(m2 K)"},
    [QUANTITY_CONDUCTIVITY] = {"a conductivity", "0.03 W/mK", "W/(m K)"},
    [QUANTITY_DENSITY] = {"a density", "955 kg/m3", "kg/m3"},
    [QUANTITY_SPECIFIC_HEAT] = {"a specific heat", "1.85 kJ/kgK", "J/(kg K)"},
    [QUANTITY_VOLUMETRIC_HEAT] = {"a heat capacity per volume", "3.3e6 J/m3K", "J/(m3 K)"},
    [QUANTITY_LATENT_HEAT] = {"a latent heat per mass", "334 kJ/kg", "J/kg"},
    [QUANTITY_VOLUMETRIC_LATENT] = {"a latent heat per volume", "2.5e8 J/m3", "J/m3"},
    [QUANTITY_RESISTANCE] = {"a resistance", "1e-4 m2K/W", "m2 K/W"},
    [QUANTITY_CONDUCTANCE] = {"a conductance", "120 W/K", "W/K"},
    [QUANTITY_FLOW] = {"a volume per time", "4.35 m3/h", "m3/s"},
    [QUANTITY_POWER] = {"a power", "1.2 kW", "W"},
    [QUANTITY_SPECIFIC_POWER] = {"a power per mass", "0.05 W/kg", "W/kg"},
    [QUANTITY_ANGLE] = {"an angle", "30 deg", "radian"},
    [QUANTITY_CURRENT] = {"a current", "6 A", "A"},
    [QUANTITY_VOLTAGE] = {"a voltage", "230 V", "V"},
    [QUANTITY_SPEED] = {"a speed", "3 m/s", "m/s"},
};

const char *quantity_name(quantity_kind kind)
{
  return kinds[kind].name;
}

const char *quantity_example(quantity_kind kind)
{
  return kinds[kind].example;
}

const char *quantity_unit(quantity_kind kind)
{
  return kinds[kind].unit;
}

/* ------------------------------------------------------------------------------------------------ the units known */

/* Ours come before those of the database. US liquid measure by definition: the gallon is 231 cubic inches (NIST Handbook 44,
 * appendix C); the imperial gallon is 4.54609 L (Units of Measurement Regulations 1995). */
static const struct {
  const char *symbol, *definition;
} aliases[] = {
    {"gal", "231 in3"},          {"gallon", "231 in3"},      {"gallons", "231 in3"},       {"qt", "57.75 in3"},
    {"quart", "57.75 in3"},      {"quarts", "57.75 in3"},    {"pt", "28.875 in3"},         {"pint", "28.875 in3"},
    {"pints", "28.875 in3"},     {"US_fl_oz", "1.8046875 in3"},
    {"imp_gal", "4.54609 dm3"},  {"imp_qt", "1.1365225 dm3"}, {"imp_pt", "0.56826125 dm3"},
    {"imp_fl_oz", "28.4130625 cm3"},
    {"oz_av", "28.349523125 g"}, {"lbs", "lb"},              {"lbm", "lb"},                {"hrs", "h"},
    {"mins", "min"},             {"secs", "s"},              {"cfm", "ft3/min"},           {"gpm", "231 in3/min"},
    {"sqft", "ft2"},             {"cuft", "ft3"},            {"Wh", "W h"},                {"percent", "0.01"},
};

static status add_alias(ut_system *units, const char *symbol, const char *definition)
{
  static const ut_encoding encodings[] = {UT_ASCII, UT_LATIN1, UT_UTF8};
  ut_unit *unit = ut_parse(units, definition, UT_ASCII);
  if (!unit)
    return STATUS_FAILED;
  /* A name wins over a symbol and every encoding has a table of its own: all six are cleared first. */
  for (size_t i = 0; i < sizeof encodings / sizeof *encodings; i++) {
    (void)ut_unmap_name_to_unit(units, symbol, encodings[i]);
    (void)ut_unmap_symbol_to_unit(units, symbol, encodings[i]);
  }
  const ut_status done = ut_map_symbol_to_unit(symbol, UT_ASCII, unit); /* symbols take prefixes: Wh gives kWh */
  ut_free(unit);
  return done == UT_SUCCESS ? STATUS_OK : STATUS_FAILED;
}

status quantity_system_create(quantity_system **out, message *msg)
{
  quantity_system *s = calloc(1, sizeof *s);
  if (!s)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the table of units", sizeof *s);
  ut_set_error_message_handler(ut_ignore);
  s->units = ut_read_xml(NULL);
  status code = s->units ? STATUS_OK
                         : message_set(msg, STATUS_FILE, "the units' database of UDUNITS-2 cannot be read (package libudunits2-data; "
                                                         "UDUNITS2_XML_PATH may name it)");
  for (size_t i = 0; code == STATUS_OK && i < sizeof aliases / sizeof *aliases; i++)
    if (add_alias(s->units, aliases[i].symbol, aliases[i].definition) != STATUS_OK)
      code = message_set(msg, STATUS_FAILED, "the units' database does not know %s", aliases[i].definition);
  for (int kind = 0; code == STATUS_OK && kind < QUANTITY_NUM_KINDS; kind++)
    if (kinds[kind].unit[0]) {
      s->si[kind] = ut_parse(s->units, kinds[kind].unit, UT_ASCII);
      if (!s->si[kind])
        code = message_set(msg, STATUS_FAILED, "the units' database does not know %s", kinds[kind].unit);
    }
  if (code == STATUS_OK)
    *out = s;
  else
    quantity_system_destroy(&s);
  return code;
}

void quantity_system_destroy(quantity_system **s)
{
  if (!*s)
    return;
  for (int kind = 0; kind < QUANTITY_NUM_KINDS; kind++)
    if ((*s)->si[kind])
      ut_free((*s)->si[kind]);
  ut_free_system((*s)->units);
  free(*s);
  *s = NULL;
}

/* ------------------------------------------------------------------------------------------------ plain ASCII first */

static const struct {
  const char *utf8, *ascii;
} letters[] = {
    {"\xC2\xB0", "deg"},     /* degree sign      */
    {"\xC2\xB2", "2"},       {"\xC2\xB3", "3"},     {"\xC2\xB9", "1"},      {"\xE2\x81\xBB", "-"}, /* superscripts */
    {"\xC2\xB5", "u"},       {"\xCE\xBC", "u"},     /* micro, mu        */
    {"\xC2\xB7", "."},       {"\xE2\x8B\x85", "."}, /* middle dot, dot operator */
    {"\xC3\x97", "*"},       /* times            */
    {"\xC2\xB1", "+-"},      {"\xE2\x88\x92", "-"}, /* plus-minus, minus */
    {"\xC2\xA0", " "},       {"\xE2\x80\xAF", " "}, {"\xE2\x80\x89", " "}, /* unbreakable, narrow, thin space */
    {"\xCE\x94", "delta "},  {"\xE2\x88\x86", "delta "},
    {"\xC2\xBD", " 1/2"},    {"\xC2\xBC", " 1/4"},  {"\xC2\xBE", " 3/4"},
};

/* Copies text into plain[LONGEST_TEXT], with runs of white space as one space and none at the ends. */
static status to_ascii(const char *text, char *plain, message *msg)
{
  size_t n = 0;
  for (const char *p = text; *p;) {
    const char *add = NULL;
    char one[2] = {*p, 0};
    size_t taken = 1;
    if ((unsigned char)*p < 0x80) {
      add = isspace((unsigned char)*p) ? " " : one;
      if (*add < 32 || *add == 127)
        return message_set(msg, STATUS_BAD_INPUT, "a control character (0x%02X) in a value", (unsigned char)*p);
    }
    for (size_t i = 0; !add && i < sizeof letters / sizeof *letters; i++)
      if (strncmp(p, letters[i].utf8, strlen(letters[i].utf8)) == 0) {
        add = letters[i].ascii;
        taken = strlen(letters[i].utf8);
      }
    if (!add)
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" holds a letter that no unit has; write units in plain letters, "
                                                "for instance degC, m2, um", SHOWN, text);
    if (n + strlen(add) + 1 > LONGEST_TEXT)
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s...\" is too long for a value with a unit", SHOWN, text);
    for (; *add; add++)
      if (*add != ' ' || (n > 0 && plain[n - 1] != ' '))
        plain[n++] = *add;
    p += taken;
  }
  while (n > 0 && plain[n - 1] == ' ')
    n--;
  plain[n] = 0;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ the number */

static const char *digits_end(const char *p)
{
  while (isdigit((unsigned char)*p))
    p++;
  return p;
}

/* whole "/" whole with the same end; NULL when p does not start one. */
static const char *fraction_end(const char *p)
{
  const char *over = digits_end(p);
  if (over == p || *over != '/')
    return NULL;
  const char *end = digits_end(over + 1);
  return end == over + 1 ? NULL : end;
}

static status read_fraction(const char *p, const char *shown, double *value, message *msg)
{
  const char *over = digits_end(p), *end = digits_end(over + 1);
  if (over - p > 6 || end - over - 1 > 6)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": a fraction of more than 6 digits; write a decimal", SHOWN, shown);
  const long top = strtol(p, NULL, 10), bottom = strtol(over + 1, NULL, 10);
  if (bottom == 0)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" divides by zero", SHOWN, shown);
  if (*end == '.' || *end == ',' || *end == '/')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": after a fraction only a unit may follow", SHOWN, shown);
  *value = (double)top / (double)bottom;
  return STATUS_OK;
}

static status read_decimal(const char *p, const char **end, const char *shown, double *value, message *msg)
{
  const char *q = digits_end(p);
  bool any = q > p;
  if (*q == '.') {
    const char *r = digits_end(q + 1);
    any = any || r > q + 1;
    q = r;
  }
  if (!any)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" does not begin with a number", SHOWN, shown);
  if (*q == 'e' || *q == 'E') {
    const char *r = q + 1;
    r += *r == '+' || *r == '-';
    if (isdigit((unsigned char)*r))
      q = digits_end(r);
  }
  if ((*q == 'x' || *q == 'X') && q == p + 1 && *p == '0' && isxdigit((unsigned char)q[1]))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is hexadecimal; write a decimal number", SHOWN, shown);
  if (*q == ',')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" has a comma in the number; the decimal sign is a point (1.5 mm), and thousands "
                                              "are written without a mark", SHOWN, shown);
  if (*q == ':')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" counts in sixties; write a decimal with its unit, for instance 1.5 h or 90 min",
                       SHOWN, shown);
  if (*q == '.' || *q == '\'' || *q == '_')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": '%c' has no place after a number", SHOWN, shown, *q);
  char number[LONGEST_TEXT];
  (void)snprintf(number, sizeof number, "%.*s", (int)(q - p), p);
  errno = 0;
  *value = strtod(number, NULL);
  if (errno == ERANGE || !isfinite(*value))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is beyond the range of numbers (1e-307 to 1e308)", SHOWN, shown);
  *end = q;
  return STATUS_OK;
}

static bool same_word(const char *p, const char *word)
{
  while (*word && tolower((unsigned char)*p) == *word) {
    p++;
    word++;
  }
  return !*word && !isalpha((unsigned char)*p);
}

/* Reads the number at the start of p; *end points behind it and the spaces after it. */
static status read_number(const char *p, const char **end, double *value, message *msg)
{
  const char *shown = p;
  const bool negative = *p == '-';
  if (*p == '-' || *p == '+')
    p++;
  if (same_word(p, "nan") || same_word(p, "inf") || same_word(p, "infinity"))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is not a number that can be computed with", SHOWN, shown);
  const char *whole = digits_end(p), *fraction = NULL;
  status code = STATUS_OK;
  if ((fraction = fraction_end(p))) {
    code = read_fraction(p, shown, value, msg);
  } else if (whole > p && *whole == ' ' && (fraction = fraction_end(whole + 1))) {
    double ones = 0.0;
    const char *unused = NULL;
    code = read_decimal(p, &unused, shown, &ones, msg);
    if (code == STATUS_OK)
      code = read_fraction(whole + 1, shown, value, msg);
    if (code == STATUS_OK && *value >= 1.0)
      code = message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": the fraction of a mixed number must be below 1", SHOWN, shown);
    *value += ones;
  } else {
    code = read_decimal(p, &fraction, shown, value, msg);
  }
  if (code != STATUS_OK)
    return code;
  if (negative)
    *value = -*value;
  *end = *fraction == ' ' ? fraction + 1 : fraction;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ the unit */

/* Spellings of several words, joined before anything else. */
static const struct {
  const char *words, *unit;
} phrases[] = {
    {"imperial gallons", "imp_gal"}, {"imperial gallon", "imp_gal"}, {"imp gallon", "imp_gal"}, {"imp gal", "imp_gal"},
    {"UK gal", "imp_gal"},           {"US gallons", "gal"},          {"US gallon", "gal"},      {"US gal", "gal"},
    {"imp qt", "imp_qt"},            {"imp pt", "imp_pt"},           {"imp fl oz", "imp_fl_oz"}, {"US fl oz", "US_fl_oz"},
    {"US qt", "qt"},                 {"US pt", "pt"},                {"fl oz", "US_fl_oz"},     {"fluid ounces", "US_fl_oz"},
    {"oz av", "oz_av"},              {"sq ft", "ft2"},               {"cu ft", "ft3"},          {"sq m", "m2"},
};

/* Words that mean something else to UDUNITS than to anybody here. */
static const struct {
  const char *word, *unit;
} words[] = {
    {"C", "degC"}, {"F", "degF"},        {"mK", "(m K)"},      {"kgK", "(kg K)"}, {"kgC", "(kg degC)"}, {"mC", "(m degC)"},
    {"lbF", "(lb degF)"}, {"degc", "degC"}, {"degf", "degF"}, {"degreeC", "degC"}, {"degreeF", "degF"}, {"degK", "K"},
    {"deg", "degree"},
};

static bool append(char *out, size_t room, const char *add, size_t length)
{
  const size_t n = strlen(out);
  if (n + length + 1 > room)
    return false;
  memcpy(out + n, add, length);
  out[n + length] = 0;
  return true;
}

static bool ends_word(char c)
{
  return !isalnum((unsigned char)c) && c != '_';
}

static bool join_phrases(const char *unit, char *out, size_t room)
{
  out[0] = 0;
  for (const char *p = unit; *p;) {
    size_t taken = 0;
    const bool starts = p == unit || ends_word(p[-1]);
    for (size_t i = 0; starts && !taken && i < sizeof phrases / sizeof *phrases; i++) {
      const size_t n = strlen(phrases[i].words);
      if (strncmp(p, phrases[i].words, n) == 0 && ends_word(p[n])) {
        taken = n;
        if (!append(out, room, phrases[i].unit, strlen(phrases[i].unit)))
          return false;
      }
    }
    if (!taken) {
      if (!append(out, room, p, 1))
        return false;
      taken = 1;
    }
    p += taken;
  }
  return true;
}

/* One word with its exponent, as UDUNITS should read it. */
static bool append_word(char *out, size_t room, const char *p, size_t length)
{
  size_t name = 0;
  while (name < length && (isalpha((unsigned char)p[name]) || p[name] == '_'))
    name++;
  for (size_t i = 0; i < sizeof words / sizeof *words; i++)
    if (strlen(words[i].word) == name && strncmp(p, words[i].word, name) == 0)
      return append(out, room, words[i].unit, strlen(words[i].unit)) && append(out, room, p + name, length - name);
  return append(out, room, p, length);
}

/* A run of letters with a digit inside is one factor: m2K is (m2 K). */
static bool append_run(char *out, size_t room, const char *p, size_t length)
{
  size_t pieces = 0;
  for (size_t i = 1; i < length; i++)
    pieces += isdigit((unsigned char)p[i - 1]) && !isdigit((unsigned char)p[i]);
  if (pieces == 0)
    return append_word(out, room, p, length);
  bool fits = append(out, room, "(", 1);
  for (size_t from = 0; fits && from < length;) {
    size_t to = from + 1;
    while (to < length && !(isdigit((unsigned char)p[to - 1]) && !isdigit((unsigned char)p[to])))
      to++;
    fits = append_word(out, room, p + from, to - from) && (to == length || append(out, room, " ", 1));
    from = to;
  }
  return fits && append(out, room, ")", 1);
}

static bool rewrite_words(const char *unit, char *out, size_t room)
{
  out[0] = 0;
  bool fits = true;
  for (const char *p = unit; fits && *p;) {
    size_t n = 0;
    while (isalnum((unsigned char)p[n]) || p[n] == '_')
      n++;
    if (n > 0 && isalpha((unsigned char)*p)) {
      fits = append_run(out, room, p, n);
      p += n;
    } else {
      n += n == 0;
      fits = append(out, room, p, n);
      p += n;
    }
  }
  return fits;
}

/* A digit in a unit belongs to an exponent: m2, m^2, m**2, m-2, m^-2. UDUNITS would take `mm 4` for four millimetres. */
static bool is_exponent(const char *unit, const char *digit)
{
  const char *p = digit;
  while (p > unit && isdigit((unsigned char)p[-1]))
    p--;
  if (p > unit && (p[-1] == '-' || p[-1] == '+'))
    p--;
  return p > unit && (isalpha((unsigned char)p[-1]) || p[-1] == '^' || (p - unit > 1 && p[-1] == '*' && p[-2] == '*'));
}

/* What UDUNITS would take but nobody here means. `unit` starts behind the number. */
static status refuse_strange(const char *unit, const char *shown, message *msg)
{
  static const char *const dates[] = {"since", "from", "after", "ref", "re", "lg", "ln", "lb("};
  const char *bad = unit + strspn(unit, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_ ./*^()-+%");
  if (*bad)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": '%c' has no place in a unit", SHOWN, shown, *bad);
  if (isdigit((unsigned char)*unit))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" has two numbers; one number and one unit are accepted", SHOWN, shown);
  if (!isalpha((unsigned char)*unit) && *unit != '%' && *unit != '(')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": \"%.*s\" is no unit", SHOWN, shown, SHOWN, unit);
  int depth = 0;
  for (const char *p = unit; *p; p++) {
    if (isdigit((unsigned char)*p) && !is_exponent(unit, p))
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" has two numbers; one number and one unit are accepted", SHOWN, shown);
    depth += *p == '(' ? 1 : *p == ')' ? -1 : 0;
    if (depth < 0 || depth > 8)
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": brackets do not match", SHOWN, shown);
    const bool starts = p == unit || ends_word(p[-1]);
    for (size_t i = 0; starts && i < sizeof dates / sizeof *dates; i++) {
      const size_t n = strlen(dates[i]);
      if (strncmp(p, dates[i], n) == 0 && (dates[i][n - 1] == '(' || ends_word(p[n])))
        return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": dates, offsets and logarithms are not accepted as units", SHOWN, shown);
    }
    if (starts && strncmp(p, "oz", 2) == 0 && ends_word(p[2]))
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": oz may be a volume or a mass; write fl oz (US), imp fl oz, or oz av", SHOWN,
                         shown);
    if (starts && strncmp(p, "ton", 3) == 0 && ends_word(p[3]))
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": ton may be metric, short or long; write t, short_ton or long_ton", SHOWN,
                         shown);
  }
  if (depth != 0)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": brackets do not match", SHOWN, shown);
  return STATUS_OK;
}

/* `W/m2 K` written by hand means W/(m2 K): brackets all that follows the only slash. */
static bool bracket_denominator(const char *unit, char *out, size_t room)
{
  const char *slash = strchr(unit, '/');
  if (!slash || strchr(slash + 1, '/') || strpbrk(slash + 1, "()") || !strpbrk(slash + 1, " .*"))
    return false;
  out[0] = 0;
  return append(out, room, unit, (size_t)(slash + 1 - unit)) && append(out, room, "(", 1) &&
         append(out, room, slash + 1, strlen(slash + 1)) && append(out, room, ")", 1);
}

/* Converter from the written unit to that of the kind, or NULL when the dimensions differ. UDUNITS also converts reciprocals
 * (Hz to s): a converter that falls is none. */
static cv_converter *converter_to(const quantity_system *s, quantity_kind kind, const char *unit, bool *known)
{
  ut_unit *u = ut_parse(s->units, unit, UT_ASCII);
  if (!u)
    return NULL;
  *known = true;
  cv_converter *c = ut_are_convertible(u, s->si[kind]) ? ut_get_converter(u, s->si[kind]) : NULL;
  ut_free(u);
  if (c && !(cv_convert_double(c, 2.0) > cv_convert_double(c, 1.0))) {
    cv_free(c);
    c = NULL;
  }
  return c;
}

static status find_converter(const quantity_system *s, quantity_kind kind, const char *unit, const char *shown, cv_converter **out,
                             message *msg)
{
  char joined[LONGEST_UNIT], rewritten[LONGEST_UNIT], bracketed[LONGEST_UNIT];
  bool known = false;
  if (!join_phrases(unit, joined, sizeof joined))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is too long for a unit", SHOWN, shown);
  const status code = refuse_strange(joined, shown, msg);
  if (code != STATUS_OK)
    return code;
  cv_converter *c = NULL;
  if (rewrite_words(joined, rewritten, sizeof rewritten))
    c = converter_to(s, kind, rewritten, &known);
  if (!c && bracket_denominator(joined, bracketed, sizeof bracketed) && rewrite_words(bracketed, rewritten, sizeof rewritten))
    c = converter_to(s, kind, rewritten, &known);
  if (c) {
    *out = c;
    return STATUS_OK;
  }
  if (known)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": %s does not measure %s; write for instance %s", SHOWN, shown, unit,
                       quantity_name(kind), quantity_example(kind));
  return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": unknown unit \"%.*s\"; %s is written like %s", SHOWN, shown, SHOWN, unit,
                     quantity_name(kind), quantity_example(kind));
}

/* ------------------------------------------------------------------------------------------------ temperatures and pressures */

static bool is_temperature_name(const char *unit)
{
  static const char *const names[] = {"degC", "degF", "C", "F", "degc", "degf", "celsius", "fahrenheit", "degree_Celsius", "degrees_C"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++)
    if (strcmp(unit, names[i]) == 0)
      return true;
  return false;
}

/* "delta degC" and "delta degF": the step behind "delta ", or NULL. */
static const char *delta_of(const char *unit)
{
  return strncmp(unit, "delta ", 6) == 0 ? unit + 6 : strncmp(unit, "delta_", 6) == 0 ? unit + 6 : NULL;
}

static status read_difference_unit(const quantity_system *s, const char *unit, const char *shown, double number, double *value,
                                   message *msg)
{
  cv_converter *c = NULL;
  const char *step = delta_of(unit);
  if (!step && is_temperature_name(unit))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": %s is a temperature, and a difference is wanted; write K, delta degC or "
                                              "delta degF", SHOWN, shown, unit);
  status code = find_converter(s, QUANTITY_DIFFERENCE, step ? step : unit, shown, &c, msg);
  if (code != STATUS_OK)
    return code;
  *value = cv_convert_double(c, number) - cv_convert_double(c, 0.0);
  cv_free(c);
  return STATUS_OK;
}

/* Takes the word for gauge or absolute off the end of unit; false when it says neither. */
static bool split_pressure(const char *unit, char *base, bool *gauge)
{
  static const struct {
    const char *end;
    bool gauge;
  } ends[] = {{"(g)", true}, {"(gauge)", true}, {" gauge", true}, {" g", true}, {"(a)", false}, {"(abs)", false},
              {"(absolute)", false}, {" absolute", false}, {" abs", false}, {" a", false}};
  static const char *const bases[] = {"psi", "bar", "mbar", "Pa", "hPa", "kPa", "MPa", "atm"};
  const size_t n = strlen(unit);
  for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
    const size_t k = strlen(ends[i].end);
    if (n > k && strcmp(unit + n - k, ends[i].end) == 0) {
      (void)snprintf(base, LONGEST_TEXT, "%.*s", (int)(n - k), unit);
      *gauge = ends[i].gauge;
      return true;
    }
  }
  for (size_t i = 0; i < sizeof bases / sizeof *bases; i++) {
    const size_t k = strlen(bases[i]);
    if (n == k + 1 && strncmp(unit, bases[i], k) == 0 && (unit[k] == 'g' || unit[k] == 'a')) {
      (void)snprintf(base, LONGEST_TEXT, "%s", bases[i]);
      *gauge = unit[k] == 'g';
      return true;
    }
  }
  return false;
}

/* ------------------------------------------------------------------------------------------------ one value */

static status read_share(const char *unit, const char *shown, double number, double *value, message *msg)
{
  if (strcmp(unit, "%") == 0 || strcmp(unit, "percent") == 0)
    *value = number / 100.0;
  else if (!*unit)
    *value = number;
  else
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": a share is written like 22 %% or 0.22", SHOWN, shown);
  return STATUS_OK;
}

/* number and unit to SI. `step`: the number is a difference of this kind (the spread of a value). */
static status to_si(const quantity_system *s, quantity_kind kind, bool step, const char *unit, const char *shown, double number,
                    double *value, bool *gauge, message *msg)
{
  char base[LONGEST_TEXT];
  cv_converter *c = NULL;
  *gauge = false;
  if (kind == QUANTITY_NUMBER) {
    if (*unit)
      return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": a plain number is wanted, without a unit", SHOWN, shown);
    *value = number;
    return STATUS_OK;
  }
  if (kind == QUANTITY_SHARE)
    return read_share(unit, shown, number, value, msg);
  if (!*unit)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" has no unit; %s is written like %s", SHOWN, shown, quantity_name(kind),
                       quantity_example(kind));
  if (kind == QUANTITY_DIFFERENCE || (kind == QUANTITY_TEMPERATURE && step))
    return read_difference_unit(s, unit, shown, number, value, msg);
  if (kind == QUANTITY_TEMPERATURE && delta_of(unit))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is a difference, and a temperature is wanted; write for instance %s", SHOWN,
                       shown, quantity_example(kind));
  if (kind == QUANTITY_PRESSURE && split_pressure(unit, base, gauge))
    unit = base;
  else if (kind == QUANTITY_PRESSURE && !step) {
    status known = find_converter(s, kind, unit, shown, &c, msg);
    if (known != STATUS_OK)
      return known;
    cv_free(c);
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" does not say whether it is absolute or gauge; write %s(a) or %s(g)", SHOWN,
                       shown, unit, unit);
  }
  status code = find_converter(s, kind, unit, shown, &c, msg);
  if (code != STATUS_OK)
    return code;
  *value = step ? cv_convert_double(c, number) - cv_convert_double(c, 0.0) : cv_convert_double(c, number);
  cv_free(c);
  return STATUS_OK;
}

static status check_value(quantity_kind kind, const quantity *q, const char *shown, message *msg)
{
  if (!isfinite(q->value) || !isfinite(q->low) || !isfinite(q->high))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is beyond the range of numbers in SI units", SHOWN, shown);
  if (kind == QUANTITY_TEMPERATURE && q->low < -273.15)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" is %g degC, below absolute zero (-273.15 degC)", SHOWN, shown, q->low);
  if (kind == QUANTITY_PRESSURE && !q->gauge && q->low < 0.0)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": an absolute pressure cannot be below zero", SHOWN, shown);
  return STATUS_OK;
}

/* LOW .. HIGH; `dots` points at the two dots inside plain. */
static status parse_range(const quantity_system *s, quantity_kind kind, char *plain, char *dots, const char *shown, quantity *q,
                          message *msg)
{
  const char *low_unit = NULL, *high_unit = NULL;
  double low = 0.0, high = 0.0;
  bool low_gauge = false;
  if (dots[2] == '.')
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": a range has two dots: LOW .. HIGH", SHOWN, shown);
  *dots = 0;
  if (dots > plain && dots[-1] == ' ')
    dots[-1] = 0;
  const char *second = dots[2] == ' ' ? dots + 3 : dots + 2;
  status code = read_number(plain, &low_unit, &low, msg);
  if (code == STATUS_OK)
    code = read_number(second, &high_unit, &high, msg);
  if (code == STATUS_OK)
    code = to_si(s, kind, false, *low_unit ? low_unit : high_unit, shown, low, &q->low, &low_gauge, msg);
  if (code == STATUS_OK)
    code = to_si(s, kind, false, high_unit, shown, high, &q->high, &q->gauge, msg);
  if (code != STATUS_OK)
    return code;
  if (low_gauge != q->gauge)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\" mixes gauge and absolute pressure", SHOWN, shown);
  if (!(q->low < q->high))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": the low end of a range must be below its high end", SHOWN, shown);
  q->value = q->low + 0.5 * (q->high - q->low);
  q->spread = true;
  return STATUS_OK;
}

/* VALUE +- SPREAD; `sign` points at the "+-" inside plain. */
static status parse_spread(const quantity_system *s, quantity_kind kind, char *plain, char *sign, const char *shown, quantity *q,
                           message *msg)
{
  const char *unit = NULL, *step_unit = NULL;
  double number = 0.0, step = 0.0, half = 0.0;
  bool unused = false;
  *sign = 0;
  if (sign > plain && sign[-1] == ' ')
    sign[-1] = 0;
  const char *second = sign[2] == ' ' ? sign + 3 : sign + 2;
  status code = read_number(plain, &unit, &number, msg);
  if (code == STATUS_OK)
    code = read_number(second, &step_unit, &step, msg);
  if (code != STATUS_OK)
    return code;
  if (step < 0.0)
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": a spread cannot be negative", SHOWN, shown);
  const bool percent = strcmp(step_unit, "%") == 0 && kind != QUANTITY_SHARE; /* of a share, % are its own points */
  if (kind == QUANTITY_TEMPERATURE && (percent || !*unit))
    return message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": the spread of a temperature is written like -12 degC +- 2 K", SHOWN, shown);
  code = to_si(s, kind, false, *unit || percent ? unit : step_unit, shown, number, &q->value, &q->gauge, msg);
  if (code == STATUS_OK && percent)
    half = fabs(q->value) * step / 100.0;
  else if (code == STATUS_OK)
    code = to_si(s, kind, true, *step_unit ? step_unit : unit, shown, step, &half, &unused, msg);
  if (code != STATUS_OK)
    return code;
  q->low = q->value - half;
  q->high = q->value + half;
  q->spread = half > 0.0;
  return STATUS_OK;
}

status quantity_parse(const quantity_system *s, quantity_kind kind, const char *text, quantity *out, message *msg)
{
  char plain[LONGEST_TEXT], kept[LONGEST_TEXT];
  quantity q = {0};
  status code = to_ascii(text, plain, msg);
  if (code != STATUS_OK)
    return code;
  memcpy(kept, plain, sizeof kept); /* plain is cut up below; kept is what a message shows */
  if (!*plain)
    return message_set(msg, STATUS_BAD_INPUT, "nothing is written; %s is written like %s", quantity_name(kind), quantity_example(kind));
  char *sign = strstr(plain, "+-"), *dots = strstr(plain, "..");
  if (sign && dots)
    code = message_set(msg, STATUS_BAD_INPUT, "\"%.*s\": either a spread (+-) or a range (..), not both", SHOWN, kept);
  else if (sign && sign != plain)
    code = parse_spread(s, kind, plain, sign, kept, &q, msg);
  else if (dots && dots != plain)
    code = parse_range(s, kind, plain, dots, kept, &q, msg);
  else {
    const char *unit = NULL;
    double number = 0.0;
    code = read_number(plain, &unit, &number, msg);
    if (code == STATUS_OK)
      code = to_si(s, kind, false, unit, kept, number, &q.value, &q.gauge, msg);
    q.low = q.high = q.value;
  }
  if (code == STATUS_OK)
    code = check_value(kind, &q, kept, msg);
  if (code == STATUS_OK)
    *out = q;
  return code;
}
