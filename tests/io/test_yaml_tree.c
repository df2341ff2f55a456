/* YAML as a tree: every node at its place, and what is refused. Rules of YAML 1.2.2 (2021) where it is cited. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "io/yaml_tree.h"

typedef struct {
  yaml_node *root;
  fault_list *faults;
  status code;
} reading;

static reading read_bytes(const char *text, size_t length)
{
  reading r = {0};
  message msg = {""};
  ck_assert_int_eq(fault_list_create(&r.faults, "f.yaml", &msg), STATUS_OK);
  r.code = yaml_tree_parse(&r.root, text, length, r.faults, &msg);
  return r;
}

static reading read_text(const char *text)
{
  return read_bytes(text, strlen(text));
}

static void done(reading *r)
{
  yaml_tree_destroy(&r->root);
  fault_list_destroy(&r->faults);
}

static void assert_told(const reading *r, const char *line)
{
  char *text = NULL;
  message msg = {""};
  ck_assert_int_eq(fault_text(r->faults, &text, &msg), STATUS_OK);
  ck_assert_msg(strstr(text, line) != NULL, "\"%s\" is not told in:\n%s", line, text);
  free(text);
}

START_TEST(texts_lists_and_maps_know_their_places)
{
  reading r = read_text("a: 1\nlist:\n  - x\n  - {k: [v, 'w']}\n");
  ck_assert_int_eq(r.code, STATUS_OK);
  ck_assert_int_eq(r.root->kind, YAML_MAP);
  ck_assert_uint_eq(r.root->num, 2);
  const yaml_node *list = yaml_tree_value(r.root, "list");
  ck_assert_int_eq(list->kind, YAML_LIST);
  ck_assert_str_eq(list->items[0]->text, "x");
  ck_assert_uint_eq(list->items[0]->at.line, 3);
  ck_assert_uint_eq(list->items[0]->at.column, 5);
  const yaml_node *k = yaml_tree_value(list->items[1], "k");
  ck_assert_uint_eq(k->at.line, 4);
  ck_assert_uint_eq(k->at.column, 9);
  ck_assert(!k->items[0]->quoted);
  ck_assert(k->items[1]->quoted);
  ck_assert_uint_eq(yaml_tree_key(r.root, "list")->at.line, 2);
  ck_assert_ptr_null(yaml_tree_value(r.root, "b"));
  ck_assert_ptr_null(yaml_tree_value(list, "k"));
  ck_assert_ptr_null(yaml_tree_value(NULL, "k"));
  done(&r);
}
END_TEST

/* Nothing is interpreted: what YAML 1.1 would turn into false, 90, a date, nothing stays a text. */
START_TEST(plain_scalars_stay_texts)
{
  static const char *const texts[] = {"no", "1:30", "2001-01-01", "~", "0x1F", "1e3", ".inf", "+12"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    char line[64];
    (void)snprintf(line, sizeof line, "a: %s\n", texts[i]);
    reading r = read_text(line);
    ck_assert_int_eq(r.code, STATUS_OK);
    ck_assert_str_eq(yaml_tree_value(r.root, "a")->text, texts[i]);
    done(&r);
  }
}
END_TEST

START_TEST(columns_count_letters_not_bytes)
{
  reading r = read_text("\xC3\xA9t\xC3\xA9: [\xC3\xA9, x]\n");
  ck_assert_int_eq(r.code, STATUS_OK);
  ck_assert_uint_eq(r.root->items[0]->items[1]->at.column, 10);
  done(&r);
}
END_TEST

START_TEST(byte_order_mark_and_version_line_are_taken)
{
  reading r = read_text("\xEF\xBB\xBF%YAML 1.2\n---\na: 1\n");
  ck_assert_int_eq(r.code, STATUS_OK);
  ck_assert_str_eq(yaml_tree_value(r.root, "a")->text, "1");
  done(&r);
}
END_TEST

static const struct {
  const char *text, *told;
} refused[] = {
    {"", "f.yaml:1:1: the file is empty"},
    {"# nothing\n", "f.yaml:1:1: the file is empty"},
    {"a: &x 1\n", "f.yaml:1:4: anchors (&x)"},
    {"a: *x\n", "f.yaml:1:4: aliases (*x)"},
    {"a: !!int 1\n", "f.yaml:1:4: tags (tag:yaml.org,2002:int)"},
    {"a: !own 1\n", "f.yaml:1:4: tags (!own)"},
    {"a: 1\n---\nb: 2\n", "f.yaml:2:1: a second document"},
    {"? [a, b]\n: 1\n", "f.yaml:1:3: a key must be a text, not a list"},
    {"{a: 1}: 2\n", "f.yaml:1:1: a key must be a text, not a map"},
    {"a: 1\nb: 2\na: 3\n", "f.yaml:3:1: the key \"a\" is given twice; first in line 1"},
    {"a: [1, 2\n", "f.yaml:2:1: not YAML"},
    {"a: {b: 1\n", "f.yaml:2:1: not YAML"},
    {"a:\n\t- 1\n", "f.yaml:2:1: not YAML"},
    {"a: 'open\n", "not YAML"},
    {"a: b: c\n", "f.yaml:1:5: not YAML"},
    {"a: 1\nb: \xFF\n", "f.yaml:2:4: not a text in UTF-8"},
    {"a: \xC3\n", "f.yaml:1:5: not a text in UTF-8"},
    {"a: \x01\n", "f.yaml:1:4: not a text in UTF-8"},
    {"a: \"x\\0y\"\n", "f.yaml:1:4: a text with a NUL"},
};

START_TEST(refused_at_its_place)
{
  reading r = read_text(refused[_i].text);
  ck_assert_uint_ge(fault_count(r.faults), 1);
  assert_told(&r, refused[_i].told);
  done(&r);
}
END_TEST

/* The rest of the file is still read, so that its other faults can be told too. */
START_TEST(double_key_stops_nothing)
{
  reading r = read_text("a: 1\na: 2\nb: 3\n");
  ck_assert_int_eq(r.code, STATUS_OK);
  ck_assert_uint_eq(fault_count(r.faults), 1);
  ck_assert_str_eq(yaml_tree_value(r.root, "b")->text, "3");
  done(&r);
}
END_TEST

START_TEST(nul_byte_is_refused)
{
  reading r = read_bytes("a: 1\0b: 2\n", 10);
  ck_assert_int_eq(r.code, STATUS_BAD_INPUT);
  assert_told(&r, "f.yaml:1:5: not a text in UTF-8");
  done(&r);
}
END_TEST

static void nest(char *text, size_t depth)
{
  memset(text, '[', depth);
  memset(text + depth, ']', depth);
  text[2 * depth] = 0;
}

START_TEST(thirty_two_levels_pass_and_one_more_is_refused)
{
  char text[128];
  nest(text, 32);
  reading r = read_text(text);
  ck_assert_int_eq(r.code, STATUS_OK);
  done(&r);
  nest(text, 33);
  r = read_text(text);
  ck_assert_int_eq(r.code, STATUS_BAD_INPUT);
  assert_told(&r, "f.yaml:1:33: nested deeper than 32 levels");
  done(&r);
}
END_TEST

START_TEST(hundred_thousand_brackets_are_refused_at_once)
{
  char *text = malloc(200001);
  ck_assert_ptr_nonnull(text);
  nest(text, 100000);
  reading r = read_text(text);
  ck_assert_int_eq(r.code, STATUS_BAD_INPUT);
  done(&r);
  free(text);
}
END_TEST

START_TEST(number_of_values_and_of_keys_is_bounded)
{
  const size_t room = 1200000;
  char *text = malloc(room);
  ck_assert_ptr_nonnull(text);
  size_t n = 0;
  for (int i = 0; i < 100001; i++)
    n += (size_t)snprintf(text + n, room - n, "- 1\n");
  reading r = read_text(text);
  ck_assert_int_eq(r.code, STATUS_BAD_INPUT);
  assert_told(&r, "more than 100000 values");
  done(&r);
  n = 0;
  for (int i = 0; i < 1001; i++)
    n += (size_t)snprintf(text + n, room - n, "k%d: 1\n", i);
  r = read_text(text);
  ck_assert_int_eq(r.code, STATUS_BAD_INPUT);
  assert_told(&r, "f.yaml:1001:1: more than 1000 keys in one map");
  done(&r);
  free(text);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("yaml_tree");
  TCase *tree = tcase_create("tree");
  tcase_add_test(tree, texts_lists_and_maps_know_their_places);
  tcase_add_test(tree, plain_scalars_stay_texts);
  tcase_add_test(tree, columns_count_letters_not_bytes);
  tcase_add_test(tree, byte_order_mark_and_version_line_are_taken);
  tcase_add_loop_test(tree, refused_at_its_place, 0, (int)(sizeof refused / sizeof *refused));
  tcase_add_test(tree, double_key_stops_nothing);
  tcase_add_test(tree, nul_byte_is_refused);
  tcase_add_test(tree, thirty_two_levels_pass_and_one_more_is_refused);
  tcase_add_test(tree, hundred_thousand_brackets_are_refused_at_once);
  tcase_add_test(tree, number_of_values_and_of_keys_is_bounded);
  suite_add_tcase(suite, tree);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
