/* Numbers with units: every accepted spelling with its value, every refused one with its reason.
 *
 * Conversion factors: NIST Special Publication 811 (2008), appendix B; the inch is 25.4 mm and the pound 0.45359237 kg exactly, the US gallon
 * 231 cubic inches (NIST Handbook 44, appendix C), the imperial gallon 4.54609 L (UK Units of Measurement Regulations 1995). */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/quantity.h"

static quantity_system *units;

static void set_up(void)
{
  message msg = {""};
  ck_assert_msg(quantity_system_create(&units, &msg) == STATUS_OK, "%s", msg.text);
}

static void tear_down(void)
{
  quantity_system_destroy(&units);
  ck_assert_ptr_null(units);
}

static const struct {
  quantity_kind kind;
  const char *text;
  double value;
} accepted[] = {
    /* the number */
    {QUANTITY_LENGTH, "3 mm", 0.003},
    {QUANTITY_LENGTH, "3mm", 0.003},
    {QUANTITY_LENGTH, "  3   mm  ", 0.003},
    {QUANTITY_LENGTH, "+3 mm", 0.003},
    {QUANTITY_LENGTH, "-3 mm", -0.003},
    {QUANTITY_LENGTH, "\xE2\x88\x92" "3 mm", -0.003}, /* true minus sign */
    {QUANTITY_LENGTH, ".5 m", 0.5},
    {QUANTITY_LENGTH, "5. m", 5.0},
    {QUANTITY_LENGTH, "-2.5e3 mm", -2.5},
    {QUANTITY_LENGTH, "2.5E-1 m", 0.25},
    {QUANTITY_LENGTH, "1/2 in", 0.0127},
    {QUANTITY_LENGTH, "1 1/2 in", 0.0381},
    {QUANTITY_LENGTH, "-1 1/2 in", -0.0381},
    {QUANTITY_LENGTH, "3/8in", 0.009525},
    {QUANTITY_LENGTH, "1\xC2\xBD in", 0.0381}, /* one half as one letter */
    {QUANTITY_LENGTH, "\xC2\xBE in", 0.01905},
    {QUANTITY_NUMBER, "18", 18.0},
    {QUANTITY_NUMBER, "-0.5", -0.5},
    /* lengths, areas, volumes */
    {QUANTITY_LENGTH, "2 ft", 0.6096},
    {QUANTITY_LENGTH, "3 inch", 0.0762},
    {QUANTITY_LENGTH, "3 inches", 0.0762},
    {QUANTITY_LENGTH, "1 yd", 0.9144},
    {QUANTITY_LENGTH, "45 cm", 0.45},
    {QUANTITY_LENGTH, "12 um", 12e-6},
    {QUANTITY_LENGTH, "12 \xC2\xB5m", 12e-6},
    {QUANTITY_LENGTH, "12 \xCE\xBCm", 12e-6},
    {QUANTITY_LENGTH, "2 metres", 2.0},
    {QUANTITY_AREA, "0.3 m2", 0.3},
    {QUANTITY_AREA, "0.3 m\xC2\xB2", 0.3},
    {QUANTITY_AREA, "0.3 m^2", 0.3},
    {QUANTITY_AREA, "0.3 m**2", 0.3},
    {QUANTITY_AREA, "2 ft2", 2 * 0.09290304},
    {QUANTITY_AREA, "2 sq ft", 2 * 0.09290304},
    {QUANTITY_AREA, "2 sqft", 2 * 0.09290304},
    {QUANTITY_VOLUME, "62 L", 0.062},
    {QUANTITY_VOLUME, "62 l", 0.062},
    {QUANTITY_VOLUME, "62 litres", 0.062},
    {QUANTITY_VOLUME, "500 mL", 0.0005},
    {QUANTITY_VOLUME, "3 dm3", 0.003},
    {QUANTITY_VOLUME, "0.06 m\xC2\xB3", 0.06},
    {QUANTITY_VOLUME, "18 gal", 18 * 3.785411784e-3},
    {QUANTITY_VOLUME, "18 US gal", 18 * 3.785411784e-3},
    {QUANTITY_VOLUME, "18 gallons", 18 * 3.785411784e-3},
    {QUANTITY_VOLUME, "4 imp gal", 4 * 4.54609e-3},
    {QUANTITY_VOLUME, "4 UK gal", 4 * 4.54609e-3},
    {QUANTITY_VOLUME, "2 qt", 2 * 0.946352946e-3},
    {QUANTITY_VOLUME, "2 pt", 2 * 0.473176473e-3},
    {QUANTITY_VOLUME, "2 imp qt", 2 * 1.1365225e-3},
    {QUANTITY_VOLUME, "2 imp pt", 2 * 0.56826125e-3},
    {QUANTITY_VOLUME, "12 fl oz", 12 * 29.5735295625e-6},
    {QUANTITY_VOLUME, "12 US fl oz", 12 * 29.5735295625e-6},
    {QUANTITY_VOLUME, "12 imp fl oz", 12 * 28.4130625e-6},
    {QUANTITY_VOLUME, "2 cu ft", 2 * 0.028316846592},
    {QUANTITY_VOLUME, "2 cuft", 2 * 0.028316846592},
    {QUANTITY_VOLUME, "2 ft3", 2 * 0.028316846592},
    /* masses, times */
    {QUANTITY_MASS, "18 kg", 18.0},
    {QUANTITY_MASS, "40 lb", 40 * 0.45359237},
    {QUANTITY_MASS, "40 lbs", 40 * 0.45359237},
    {QUANTITY_MASS, "250 g", 0.25},
    {QUANTITY_MASS, "1.2 t", 1200.0},
    {QUANTITY_MASS, "8 oz av", 8 * 0.028349523125},
    {QUANTITY_TIME, "90 min", 5400.0},
    {QUANTITY_TIME, "1.5 h", 5400.0},
    {QUANTITY_TIME, "2 hours", 7200.0},
    {QUANTITY_TIME, "2 hrs", 7200.0},
    {QUANTITY_TIME, "2 d", 172800.0},
    {QUANTITY_TIME, "30 s", 30.0},
    {QUANTITY_TIME, "30 secs", 30.0},
    /* temperatures and differences */
    {QUANTITY_TEMPERATURE, "-25 degC", -25.0},
    {QUANTITY_TEMPERATURE, "-25 C", -25.0},
    {QUANTITY_TEMPERATURE, "-25C", -25.0},
    {QUANTITY_TEMPERATURE, "-25 \xC2\xB0" "C", -25.0},
    {QUANTITY_TEMPERATURE, "-25 celsius", -25.0},
    {QUANTITY_TEMPERATURE, "14 F", -10.0},
    {QUANTITY_TEMPERATURE, "14 degF", -10.0},
    {QUANTITY_TEMPERATURE, "14 \xC2\xB0" "F", -10.0},
    {QUANTITY_TEMPERATURE, "263.15 K", -10.0},
    {QUANTITY_DIFFERENCE, "3 K", 3.0},
    {QUANTITY_DIFFERENCE, "3 delta degC", 3.0},
    {QUANTITY_DIFFERENCE, "9 delta degF", 5.0},
    {QUANTITY_DIFFERENCE, "9 delta F", 5.0},
    {QUANTITY_DIFFERENCE, "9 \xCE\x94" "\xC2\xB0" "F", 5.0},
    /* pressures */
    {QUANTITY_PRESSURE, "1013.25 hPa(a)", 101325.0},
    {QUANTITY_PRESSURE, "1 atm abs", 101325.0},
    {QUANTITY_PRESSURE, "1 bara", 1e5},
    {QUANTITY_PRESSURE, "101.325 kPa absolute", 101325.0},
    {QUANTITY_PRESSURE, "30 psia", 30 * 6894.757293168},
    /* heat */
    {QUANTITY_FILM, "8 W/m2K", 8.0},
    {QUANTITY_FILM, "8 W/m\xC2\xB2K", 8.0},
    {QUANTITY_FILM, "8 W/(m2 K)", 8.0},
    {QUANTITY_FILM, "8 W/(m2\xC2\xB7K)", 8.0},
    {QUANTITY_FILM, "8 W/m2/K", 8.0},
    {QUANTITY_FILM, "8 W/m2 K", 8.0},
    {QUANTITY_FILM, "8 W m-2 K-1", 8.0},
    {QUANTITY_FILM, "8 W/m2/degC", 8.0},
    {QUANTITY_FILM, "8 W/m2C", 8.0},
    {QUANTITY_FILM, "1.5 BTU/(h ft2 degF)", 1.5 * 5.678263341113487},
    {QUANTITY_FILM, "1.5 BTU/h ft2 F", 1.5 * 5.678263341113487},
    {QUANTITY_FILM, "1.5 Btu/(hr ft2 F)", 1.5 * 5.678263341113487},
    {QUANTITY_FILM, "0.8 kW/m2K", 800.0},
    {QUANTITY_CONDUCTIVITY, "0.03 W/mK", 0.03},
    {QUANTITY_CONDUCTIVITY, "0.03 W/m.K", 0.03},
    {QUANTITY_CONDUCTIVITY, "0.03 W/(m K)", 0.03},
    {QUANTITY_CONDUCTIVITY, "0.03 W/m K", 0.03},
    {QUANTITY_CONDUCTIVITY, "30 mW/mK", 0.03},
    {QUANTITY_CONDUCTIVITY, "0.2 BTU/(h ft degF)", 0.2 * 1.730734666371391},
    {QUANTITY_DENSITY, "955 kg/m3", 955.0},
    {QUANTITY_DENSITY, "0.955 g/cm3", 955.0},
    {QUANTITY_DENSITY, "2 lb/ft3", 2 * 16.01846337396014},
    {QUANTITY_SPECIFIC_HEAT, "1.85 kJ/kgK", 1850.0},
    {QUANTITY_SPECIFIC_HEAT, "1850 J/kgK", 1850.0},
    {QUANTITY_SPECIFIC_HEAT, "1850 J/(kg K)", 1850.0},
    {QUANTITY_SPECIFIC_HEAT, "1.85 kJ/kg/K", 1850.0},
    {QUANTITY_SPECIFIC_HEAT, "1.85 kJ/kg K", 1850.0},
    {QUANTITY_VOLUMETRIC_HEAT, "3.3e6 J/m3K", 3.3e6},
    {QUANTITY_LATENT_HEAT, "334 kJ/kg", 334e3},
    {QUANTITY_LATENT_HEAT, "144 BTU/lb", 144 * 2326.0},
    {QUANTITY_VOLUMETRIC_LATENT, "306 MJ/m3", 306e6},
    {QUANTITY_RESISTANCE, "1e-4 m2K/W", 1e-4},
    {QUANTITY_RESISTANCE, "1e-4 m2 K/W", 1e-4},
    {QUANTITY_RESISTANCE, "2 h ft2 degF/BTU", 2 * 0.1761101837} /* R-value */,
    {QUANTITY_CONDUCTANCE, "120 W/K", 120.0},
    {QUANTITY_FLOW, "4.35 m3/h", 4.35 / 3600.0},
    {QUANTITY_FLOW, "10 cfm", 10 * 4.719474432e-4},
    {QUANTITY_FLOW, "10 gpm", 10 * 6.30901964e-5},
    {QUANTITY_FLOW, "5 L/min", 5e-3 / 60.0},
    {QUANTITY_POWER, "1.2 kW", 1200.0},
    {QUANTITY_POWER, "5000 BTU/h", 5000 * 0.2930710701722222},
    {QUANTITY_POWER, "3 kWh/d", 125.0},
    {QUANTITY_SPECIFIC_POWER, "0.05 W/kg", 0.05},
    /* shares */
    {QUANTITY_SHARE, "22 %", 0.22},
    {QUANTITY_SHARE, "22%", 0.22},
    {QUANTITY_SHARE, "22 percent", 0.22},
    {QUANTITY_SHARE, "0.22", 0.22},
    {QUANTITY_SHARE, "1/4", 0.25},
};

START_TEST(accepted_spelling_has_its_value)
{
  message msg = {""};
  quantity q = {0};
  const status code = quantity_parse(units, accepted[_i].kind, accepted[_i].text, &q, &msg);
  ck_assert_msg(code == STATUS_OK, "\"%s\" was refused: %s", accepted[_i].text, msg.text);
  /* the published factors above have at least ten digits; -10 degC from F and K is rounded at 273 */
  const double tolerance = 1e-9 * fabs(accepted[_i].value) + (accepted[_i].kind == QUANTITY_TEMPERATURE ? 1e-12 : 0.0);
  ck_assert_msg(fabs(q.value - accepted[_i].value) <= tolerance, "\"%s\" is %.17g, should be %.17g", accepted[_i].text, q.value,
                accepted[_i].value);
  ck_assert(!q.spread);
  ck_assert(!q.gauge);
  ck_assert_double_eq(q.low, q.value);
  ck_assert_double_eq(q.high, q.value);
}
END_TEST

static const struct {
  quantity_kind kind;
  const char *text, *reason; /* a fragment of the message */
} refused[] = {
    {QUANTITY_LENGTH, "3", "has no unit"},
    {QUANTITY_TEMPERATURE, "-25", "has no unit"},
    {QUANTITY_LENGTH, "", "nothing is written"},
    {QUANTITY_LENGTH, "   ", "nothing is written"},
    {QUANTITY_LENGTH, "mm", "does not begin with a number"},
    {QUANTITY_LENGTH, "about 3 mm", "does not begin with a number"},
    {QUANTITY_LENGTH, "1,5 mm", "comma"},
    {QUANTITY_LENGTH, "1,500 mm", "comma"},
    {QUANTITY_TIME, "1:30", "sixties"},
    {QUANTITY_TIME, "1:30 h", "sixties"},
    {QUANTITY_LENGTH, "0x10 mm", "hexadecimal"},
    {QUANTITY_LENGTH, "nan mm", "not a number"},
    {QUANTITY_LENGTH, "NaN mm", "not a number"},
    {QUANTITY_LENGTH, "inf m", "not a number"},
    {QUANTITY_LENGTH, "-Infinity m", "not a number"},
    {QUANTITY_LENGTH, "1e400 m", "beyond the range"},
    {QUANTITY_LENGTH, "1e-400 m", "beyond the range"},
    {QUANTITY_VOLUMETRIC_LATENT, "1e305 MJ/m3", "beyond the range"}, /* only in SI */
    {QUANTITY_LENGTH, "1/0 in", "divides by zero"},
    {QUANTITY_LENGTH, "1 3/2 in", "below 1"},
    {QUANTITY_LENGTH, "1/2/3 in", "only a unit may follow"},
    {QUANTITY_LENGTH, "1.2.3 mm", "no place after a number"},
    {QUANTITY_LENGTH, "1'000 mm", "no place after a number"},
    {QUANTITY_LENGTH, "1_000 mm", "no place after a number"},
    {QUANTITY_LENGTH, "3 mm 4", "two numbers"}, /* UDUNITS would multiply */
    {QUANTITY_LENGTH, "3 m/2", "two numbers"},
    {QUANTITY_LENGTH, "3 m*2", "two numbers"},
    {QUANTITY_AREA, "3 m2.5", "two numbers"},
    {QUANTITY_LENGTH, "3 4 mm", "two numbers"},
    {QUANTITY_LENGTH, "5 ft 3 in", "two numbers"},
    {QUANTITY_LENGTH, "3 mm please", "unknown unit"},
    {QUANTITY_LENGTH, "3 furlings", "unknown unit"},
    {QUANTITY_LENGTH, "3 kg", "does not measure a length"},
    {QUANTITY_LENGTH, "5'", "no place after a number"},
    {QUANTITY_LENGTH, "5 \"", "no place in a unit"},
    {QUANTITY_LENGTH, "3 m @ 3", "no place in a unit"},
    {QUANTITY_TIME, "3 s since 1990", "accepted"},
    {QUANTITY_TIME, "3 s since January", "dates"},
    {QUANTITY_POWER, "3 lg(re mW)", "logarithms"},
    {QUANTITY_LENGTH, "3 (((((((((m)))))))))", "brackets"},
    {QUANTITY_LENGTH, "3 (m", "brackets"},
    {QUANTITY_LENGTH, "3 m)", "brackets"},
    {QUANTITY_LENGTH, "3 \xE2\x82\xAC", "no unit has"}, /* a currency sign */
    {QUANTITY_LENGTH, "3\x01 mm", "control character"},
    {QUANTITY_LENGTH, "3 mmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmm"
                      "mmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmm", "too long"},
    {QUANTITY_VOLUME, "3 oz", "fl oz"},
    {QUANTITY_MASS, "3 oz", "oz av"},
    {QUANTITY_MASS, "3 ton", "long_ton"},
    {QUANTITY_TIME, "2 Hz", "does not measure a time"}, /* UDUNITS would take the reciprocal */
    {QUANTITY_RESISTANCE, "100 W/m2K", "does not measure a resistance"},
    {QUANTITY_CONDUCTANCE, "120 W/mK", "does not measure a conductance"}, /* not watts per millikelvin */
    {QUANTITY_DIFFERENCE, "3 degC", "delta degC"},
    {QUANTITY_DIFFERENCE, "3 C", "delta degC"},
    {QUANTITY_DIFFERENCE, "5 degF", "delta degF"},
    {QUANTITY_TEMPERATURE, "3 delta degC", "is a difference"},
    {QUANTITY_TEMPERATURE, "-300 degC", "absolute zero"},
    {QUANTITY_TEMPERATURE, "-1 K", "absolute zero"},
    {QUANTITY_PRESSURE, "0.2 bar", "absolute or gauge"},
    {QUANTITY_PRESSURE, "14.7 psi", "absolute or gauge"},
    {QUANTITY_PRESSURE, "1013 hPa", "absolute or gauge"},
    {QUANTITY_PRESSURE, "-1 bar(a)", "below zero"},
    {QUANTITY_PRESSURE, "3 mm(g)", "does not measure"},
    {QUANTITY_NUMBER, "18 mm", "without a unit"},
    {QUANTITY_SHARE, "22 kg", "a share is written"},
    {QUANTITY_SHARE, "22 ppm", "a share is written"},
    /* spreads and ranges */
    {QUANTITY_FILM, "8 W/m2K +- -1 W/m2K", "cannot be negative"},
    {QUANTITY_FILM, "8 W/m2K +- 2 kg", "does not measure"},
    {QUANTITY_FILM, "8 +- 30 %", "has no unit"},
    {QUANTITY_FILM, "8 +- 2", "has no unit"},
    {QUANTITY_FILM, "5 .. 12", "has no unit"},
    {QUANTITY_FILM, "12 .. 5 W/m2K", "low end"},
    {QUANTITY_FILM, "5 .. 5 W/m2K", "low end"},
    {QUANTITY_FILM, "5 ... 12 W/m2K", "two dots"},
    {QUANTITY_FILM, "5 .. W/m2K", "does not begin with a number"},
    {QUANTITY_FILM, "5 +- 1 .. 3 W/m2K", "not both"},
    {QUANTITY_TEMPERATURE, "-25 C +- 2 C", "a difference is wanted"},
    {QUANTITY_TEMPERATURE, "-25 +- 2 K", "written like -12 degC +- 2 K"},
    {QUANTITY_TEMPERATURE, "-25 C +- 10 %", "written like -12 degC +- 2 K"},
    {QUANTITY_PRESSURE, "1 bar(a) .. 2 bar(g)", "mixes"},
};

START_TEST(refused_spelling_says_why)
{
  message msg = {""};
  quantity q = {.value = 42.0};
  const status code = quantity_parse(units, refused[_i].kind, refused[_i].text, &q, &msg);
  ck_assert_msg(code == STATUS_BAD_INPUT, "\"%s\" was taken as %.17g", refused[_i].text, q.value);
  ck_assert_msg(strstr(msg.text, refused[_i].reason) != NULL, "\"%s\": the message \"%s\" lacks \"%s\"", refused[_i].text, msg.text,
                refused[_i].reason);
  ck_assert_double_eq(q.value, 42.0); /* untouched */
}
END_TEST

static const struct {
  quantity_kind kind;
  const char *text;
  double value, low, high;
} spreads[] = {
    {QUANTITY_FILM, "8 W/m2K +- 2 W/m2K", 8.0, 6.0, 10.0},
    {QUANTITY_FILM, "8 +- 2 W/m2K", 8.0, 6.0, 10.0},
    {QUANTITY_FILM, "8 W/m2K +- 2", 8.0, 6.0, 10.0},
    {QUANTITY_FILM, "8 W/m2K +- 30 %", 8.0, 5.6, 10.4},
    {QUANTITY_FILM, "8 W/m2K\xC2\xB1" "30%", 8.0, 5.6, 10.4},
    {QUANTITY_LENGTH, "1 1/2 in +- 1/8 in", 0.0381, 0.034925, 0.041275},
    {QUANTITY_LENGTH, "-3 mm +- 1 mm", -0.003, -0.004, -0.002},
    {QUANTITY_TEMPERATURE, "-12 degC +- 2 K", -12.0, -14.0, -10.0},
    {QUANTITY_TEMPERATURE, "14 F +- 9 delta degF", -10.0, -15.0, -5.0},
    {QUANTITY_TEMPERATURE, "-15 .. -5 C", -10.0, -15.0, -5.0},
    {QUANTITY_FILM, "5 .. 12 W/m2K", 8.5, 5.0, 12.0},
    {QUANTITY_FILM, "5 W/m2K .. 12 W/m2K", 8.5, 5.0, 12.0},
    {QUANTITY_FILM, "5..12 W/m2K", 8.5, 5.0, 12.0},
    {QUANTITY_LENGTH, "1 mm .. 1 cm", 0.0055, 0.001, 0.01},
    {QUANTITY_NUMBER, "3 .. 5", 4.0, 3.0, 5.0},
    {QUANTITY_SHARE, "22 % +- 2 %", 0.22, 0.20, 0.24}, /* points of the share itself */
    {QUANTITY_SHARE, "20 .. 24 %", 0.22, 0.20, 0.24},
    {QUANTITY_PRESSURE, "2 bar(a) +- 0.1 bar", 2e5, 1.9e5, 2.1e5},
};

START_TEST(spread_gives_low_and_high)
{
  message msg = {""};
  quantity q = {0};
  const status code = quantity_parse(units, spreads[_i].kind, spreads[_i].text, &q, &msg);
  ck_assert_msg(code == STATUS_OK, "\"%s\" was refused: %s", spreads[_i].text, msg.text);
  ck_assert(q.spread);
  ck_assert_double_eq_tol(q.value, spreads[_i].value, 1e-10 * fabs(spreads[_i].value) + 1e-12);
  ck_assert_double_eq_tol(q.low, spreads[_i].low, 1e-10 * fabs(spreads[_i].low) + 1e-12);
  ck_assert_double_eq_tol(q.high, spreads[_i].high, 1e-10 * fabs(spreads[_i].high) + 1e-12);
}
END_TEST

static const struct {
  const char *text;
  double value;
} gauges[] = {
    {"0.2 bar(g)", 2e4},          {"0.2 barg", 2e4},   {"0.2 bar gauge", 2e4},  {"0.2 bar g", 2e4},
    {"20 psig", 20 * 6894.757293168}, {"20 psi(g)", 20 * 6894.757293168}, {"-10 kPa(g)", -1e4}, {"50 kPag", 5e4},
};

START_TEST(gauge_pressure_is_marked)
{
  message msg = {""};
  quantity q = {0};
  ck_assert_msg(quantity_parse(units, QUANTITY_PRESSURE, gauges[_i].text, &q, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert(q.gauge);
  ck_assert_double_eq_tol(q.value, gauges[_i].value, 1e-9 * fabs(gauges[_i].value));
}
END_TEST

/* What --help shows must itself be accepted, and without a message nothing crashes. */
START_TEST(example_of_every_kind_is_accepted)
{
  quantity q;
  ck_assert_msg(quantity_parse(units, (quantity_kind)_i, quantity_example((quantity_kind)_i), &q, NULL) == STATUS_OK, "%s",
                quantity_example((quantity_kind)_i));
  ck_assert_int_eq(quantity_parse(units, (quantity_kind)_i, "mush", &q, NULL), STATUS_BAD_INPUT);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("quantity");
  TCase *values = tcase_create("values");
  tcase_add_checked_fixture(values, set_up, tear_down);
  tcase_add_loop_test(values, accepted_spelling_has_its_value, 0, (int)(sizeof accepted / sizeof *accepted));
  tcase_add_loop_test(values, refused_spelling_says_why, 0, (int)(sizeof refused / sizeof *refused));
  tcase_add_loop_test(values, spread_gives_low_and_high, 0, (int)(sizeof spreads / sizeof *spreads));
  tcase_add_loop_test(values, gauge_pressure_is_marked, 0, (int)(sizeof gauges / sizeof *gauges));
  tcase_add_loop_test(values, example_of_every_kind_is_accepted, 0, QUANTITY_NUM_KINDS);
  suite_add_tcase(suite, values);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
