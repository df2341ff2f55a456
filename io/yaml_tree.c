#include "io/yaml_tree.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

enum { MOST_BYTES = 4 << 20, MOST_DEPTH = 32, MOST_NODES = 100000 };

typedef struct {
  yaml_parser_t parser;
  fault_list *faults;
  const char *text;
  size_t length, num_nodes;
  message *msg;
} reader;

/* ------------------------------------------------------------------------------------------------ nodes */

static status new_node(yaml_node **out, yaml_kind kind, fault_place at, message *msg)
{
  yaml_node *n = calloc(1, sizeof *n);
  if (!n)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a node of the case", sizeof *n);
  n->kind = kind;
  n->at = at;
  *out = n;
  return STATUS_OK;
}

/* Recursion is bounded: the reader refuses more than MOST_DEPTH levels and overrides add one. */
void yaml_tree_destroy(yaml_node **node)
{
  if (!*node)
    return;
  for (size_t i = 0; i < (*node)->num; i++) {
    if ((*node)->keys)
      yaml_tree_destroy(&(*node)->keys[i]);
    yaml_tree_destroy(&(*node)->items[i]);
  }
  free((*node)->keys);
  free((*node)->items);
  free((*node)->text);
  free(*node);
  *node = NULL;
}

status yaml_tree_text(yaml_node **out, const char *text, fault_place at, message *msg)
{
  yaml_node *n = NULL;
  status code = new_node(&n, YAML_TEXT, at, msg);
  if (code != STATUS_OK)
    return code;
  const size_t length = strlen(text);
  n->text = malloc(length + 1);
  if (!n->text) {
    yaml_tree_destroy(&n);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a text", length + 1);
  }
  memcpy(n->text, text, length + 1);
  *out = n;
  return STATUS_OK;
}

status yaml_tree_map(yaml_node **out, fault_place at, message *msg)
{
  return new_node(out, YAML_MAP, at, msg);
}

static status grow(yaml_node *to, message *msg)
{
  const size_t capacity = to->capacity ? 2 * to->capacity : 8;
  yaml_node **items = realloc(to->items, capacity * sizeof *items);
  if (items)
    to->items = items;
  yaml_node **keys = to->kind == YAML_MAP && items ? realloc(to->keys, capacity * sizeof *keys) : NULL;
  if (keys)
    to->keys = keys;
  if (!items || (to->kind == YAML_MAP && !keys))
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a list of the case", capacity * sizeof *items);
  to->capacity = capacity;
  return STATUS_OK;
}

status yaml_tree_append(yaml_node *to, yaml_node *key, yaml_node *item, message *msg)
{
  const status code = to->num == to->capacity ? grow(to, msg) : STATUS_OK;
  if (code != STATUS_OK) {
    yaml_tree_destroy(&key);
    yaml_tree_destroy(&item);
    return code;
  }
  if (to->kind == YAML_MAP)
    to->keys[to->num] = key;
  to->items[to->num++] = item;
  return STATUS_OK;
}

static size_t find(const yaml_node *map, const char *key)
{
  for (size_t i = 0; map && map->kind == YAML_MAP && i < map->num; i++)
    if (strcmp(map->keys[i]->text, key) == 0)
      return i;
  return SIZE_MAX;
}

yaml_node *yaml_tree_value(const yaml_node *map, const char *key)
{
  const size_t i = find(map, key);
  return i == SIZE_MAX ? NULL : map->items[i];
}

const yaml_node *yaml_tree_key(const yaml_node *map, const char *key)
{
  const size_t i = find(map, key);
  return i == SIZE_MAX ? NULL : map->keys[i];
}

const char *yaml_tree_kind_name(yaml_kind kind)
{
  return kind == YAML_TEXT ? "a text" : kind == YAML_LIST ? "a list" : "a map";
}

/* ------------------------------------------------------------------------------------------------ events */

static fault_place place_of(yaml_mark_t mark)
{
  return (fault_place){.line = mark.line + 1, .column = mark.column + 1};
}

/* libyaml gives no line for a bad byte, only its offset. */
static fault_place place_of_offset(const reader *r, size_t offset)
{
  fault_place at = {.line = 1, .column = 1};
  for (size_t i = 0; i < offset && i < r->length; i++) {
    if (r->text[i] == '\n') {
      at.line++;
      at.column = 1;
    } else if (((unsigned char)r->text[i] & 0xC0) != 0x80) {
      at.column++;
    }
  }
  return at;
}

static status syntax_fault(const reader *r)
{
  const yaml_parser_t *p = &r->parser;
  if (p->error == YAML_MEMORY_ERROR)
    return message_set(r->msg, STATUS_NO_MEMORY, "out of memory while the case file was read");
  if (p->error == YAML_READER_ERROR)
    fault_add(r->faults, place_of_offset(r, p->problem_offset), "not a text in UTF-8: %s (byte 0x%02X)", p->problem,
              (unsigned)p->problem_value & 0xFFu);
  else
    fault_add(r->faults, place_of(p->problem_mark), "not YAML: %s%s%s", p->problem ? p->problem : "cannot be read",
              p->context ? ", " : "", p->context ? p->context : "");
  return STATUS_BAD_INPUT;
}

static status next_event(reader *r, yaml_event_t *e)
{
  return yaml_parser_parse(&r->parser, e) ? STATUS_OK : syntax_fault(r);
}

static status refuse_extras(reader *r, const yaml_event_t *e, fault_place at)
{
  const yaml_char_t *anchor = NULL, *tag = NULL;
  switch (e->type) {
  case YAML_ALIAS_EVENT:
    fault_add(r->faults, at, "aliases (*%.40s) are not accepted; write the value out", (const char *)e->data.alias.anchor);
    return STATUS_BAD_INPUT;
  case YAML_SCALAR_EVENT:
    anchor = e->data.scalar.anchor;
    tag = e->data.scalar.tag;
    break;
  case YAML_SEQUENCE_START_EVENT:
    anchor = e->data.sequence_start.anchor;
    tag = e->data.sequence_start.tag;
    break;
  case YAML_MAPPING_START_EVENT:
    anchor = e->data.mapping_start.anchor;
    tag = e->data.mapping_start.tag;
    break;
  default:
    break;
  }
  if (anchor)
    fault_add(r->faults, at, "anchors (&%.40s) are not accepted; write the value out", (const char *)anchor);
  if (tag)
    fault_add(r->faults, at, "tags (%.40s) are not accepted; write the plain value", (const char *)tag);
  return anchor || tag ? STATUS_BAD_INPUT : STATUS_OK;
}

static status build(reader *r, const yaml_event_t *e, int depth, yaml_node **out);

static status build_text(reader *r, const yaml_event_t *e, fault_place at, yaml_node **out)
{
  if (memchr(e->data.scalar.value, 0, e->data.scalar.length)) {
    fault_add(r->faults, at, "a text with a NUL character");
    return STATUS_BAD_INPUT;
  }
  status code = yaml_tree_text(out, (const char *)e->data.scalar.value, at, r->msg);
  if (code == STATUS_OK)
    (*out)->quoted = e->data.scalar.style != YAML_PLAIN_SCALAR_STYLE;
  return code;
}

static status build_list(reader *r, fault_place at, int depth, yaml_node **out)
{
  yaml_node *list = NULL;
  status code = new_node(&list, YAML_LIST, at, r->msg);
  while (code == STATUS_OK) {
    yaml_event_t e;
    yaml_node *item = NULL;
    code = next_event(r, &e);
    if (code != STATUS_OK)
      break;
    const bool end = e.type == YAML_SEQUENCE_END_EVENT;
    if (!end)
      code = build(r, &e, depth + 1, &item);
    yaml_event_delete(&e);
    if (end)
      break;
    if (code == STATUS_OK)
      code = yaml_tree_append(list, NULL, item, r->msg);
  }
  if (code == STATUS_OK)
    *out = list;
  else
    yaml_tree_destroy(&list);
  return code;
}

/* More pairs than any table of ours has keys: also keeps the search for doubles short. */
enum { MOST_PAIRS = 1000 };

static status accept_key(reader *r, const yaml_node *map, const yaml_node *key)
{
  if (key->kind != YAML_TEXT) {
    fault_add(r->faults, key->at, "a key must be a text, not %s", yaml_tree_kind_name(key->kind));
    return STATUS_BAD_INPUT;
  }
  if (map->num >= MOST_PAIRS) {
    fault_add(r->faults, key->at, "more than %d keys in one map", MOST_PAIRS);
    return STATUS_BAD_INPUT;
  }
  const yaml_node *before = yaml_tree_key(map, key->text);
  if (before)
    fault_add(r->faults, key->at, "the key \"%.60s\" is given twice; first in line %zu", key->text, before->at.line);
  return STATUS_OK; /* a double is a fault, but the rest of the file can still be read */
}

static status build_pair(reader *r, const yaml_event_t *key_event, int depth, yaml_node *map)
{
  yaml_node *key = NULL, *value = NULL;
  yaml_event_t e;
  status code = build(r, key_event, depth + 1, &key);
  if (code == STATUS_OK)
    code = accept_key(r, map, key);
  if (code == STATUS_OK)
    code = next_event(r, &e);
  else
    goto done;
  if (code == STATUS_OK) {
    code = build(r, &e, depth + 1, &value);
    yaml_event_delete(&e);
  }
  if (code == STATUS_OK) {
    code = yaml_tree_append(map, key, value, r->msg);
    return code;
  }
done:
  yaml_tree_destroy(&key);
  return code;
}

static status build_map(reader *r, fault_place at, int depth, yaml_node **out)
{
  yaml_node *map = NULL;
  status code = new_node(&map, YAML_MAP, at, r->msg);
  while (code == STATUS_OK) {
    yaml_event_t e;
    code = next_event(r, &e);
    if (code != STATUS_OK)
      break;
    const bool end = e.type == YAML_MAPPING_END_EVENT;
    if (!end)
      code = build_pair(r, &e, depth, map);
    yaml_event_delete(&e);
    if (end)
      break;
  }
  if (code == STATUS_OK)
    *out = map;
  else
    yaml_tree_destroy(&map);
  return code;
}

static status build(reader *r, const yaml_event_t *e, int depth, yaml_node **out)
{
  const fault_place at = place_of(e->start_mark);
  if (depth > MOST_DEPTH) {
    fault_add(r->faults, at, "nested deeper than %d levels", MOST_DEPTH);
    return STATUS_BAD_INPUT;
  }
  if (++r->num_nodes > MOST_NODES) {
    fault_add(r->faults, at, "more than %d values in one file", MOST_NODES);
    return STATUS_BAD_INPUT;
  }
  const status code = refuse_extras(r, e, at);
  if (code != STATUS_OK)
    return code;
  switch (e->type) {
  case YAML_SCALAR_EVENT:
    return build_text(r, e, at, out);
  case YAML_SEQUENCE_START_EVENT:
    return build_list(r, at, depth, out);
  case YAML_MAPPING_START_EVENT:
    return build_map(r, at, depth, out);
  default:
    fault_add(r->faults, at, "a value is missing here");
    return STATUS_BAD_INPUT;
  }
}

/* Stream start, document start, the root, document end, stream end. */
static status read_document(reader *r, yaml_node **out)
{
  yaml_event_t e;
  yaml_node *root = NULL;
  bool ended = false;
  status code = STATUS_OK;
  while (code == STATUS_OK && !ended) {
    code = next_event(r, &e);
    if (code != STATUS_OK)
      break;
    const fault_place at = place_of(e.start_mark);
    switch (e.type) {
    case YAML_STREAM_START_EVENT:
    case YAML_DOCUMENT_END_EVENT:
      break;
    case YAML_STREAM_END_EVENT:
      ended = true;
      break;
    case YAML_DOCUMENT_START_EVENT:
      if (root) {
        fault_add(r->faults, at, "a second document begins here; a case file holds one");
        code = STATUS_BAD_INPUT;
      }
      break;
    default:
      code = build(r, &e, 1, &root);
      break;
    }
    yaml_event_delete(&e);
  }
  if (code == STATUS_OK && !root) {
    fault_add(r->faults, (fault_place){.line = 1, .column = 1}, "the file is empty");
    code = STATUS_BAD_INPUT;
  }
  if (code == STATUS_OK)
    *out = root;
  else
    yaml_tree_destroy(&root);
  return code;
}

status yaml_tree_parse(yaml_node **out, const char *text, size_t length, fault_list *faults, message *msg)
{
  if (length > MOST_BYTES) {
    fault_add(faults, (fault_place){0}, "the file is larger than %d MiB", MOST_BYTES >> 20);
    return message_set(msg, STATUS_BAD_INPUT, "the file is larger than %d MiB", MOST_BYTES >> 20);
  }
  if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) { /* libyaml takes a byte order mark for an error */
    text += 3;
    length -= 3;
  }
  reader r = {.faults = faults, .text = text, .length = length, .msg = msg};
  if (!yaml_parser_initialize(&r.parser))
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the YAML parser");
  yaml_parser_set_encoding(&r.parser, YAML_UTF8_ENCODING);
  yaml_parser_set_input_string(&r.parser, (const unsigned char *)text, length);
  const status code = read_document(&r, out);
  yaml_parser_delete(&r.parser);
  if (code == STATUS_BAD_INPUT)
    (void)message_set(msg, code, "the file is not a case that can be read");
  return code;
}

/* Reads at most one byte more than is accepted. */
static status read_bytes(const char *path, char **text, size_t *length, message *msg)
{
  FILE *f = fopen(path, "rb");
  if (!f)
    return message_set(msg, STATUS_FILE, "%s: %s", path, strerror(errno));
  char *bytes = malloc(MOST_BYTES + 1);
  status code = STATUS_OK;
  if (!bytes)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %d bytes for %s", MOST_BYTES + 1, path);
  if (code == STATUS_OK) {
    errno = 0;
    *length = fread(bytes, 1, MOST_BYTES + 1, f);
    if (ferror(f))
      code = message_set(msg, STATUS_FILE, "%s: %s", path, strerror(errno));
  }
  (void)fclose(f); /* only read */
  if (code == STATUS_OK)
    *text = bytes;
  else
    free(bytes);
  return code;
}

status yaml_tree_read(yaml_node **out, const char *path, fault_list *faults, message *msg)
{
  char *text = NULL;
  size_t length = 0;
  status code = read_bytes(path, &text, &length, msg);
  if (code == STATUS_OK)
    code = yaml_tree_parse(out, text, length, faults, msg);
  free(text);
  return code;
}
