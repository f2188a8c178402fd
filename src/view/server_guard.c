#include "view/server_guard.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/random.h>

milori_status mil_guard_key(milori_context *ctx, mil_guard *guard) {
    uint8_t bytes[MIL_KEY_DIGITS / 2];
    ssize_t n;
    do
        n = getrandom(bytes, sizeof bytes, 0);
    while (n < 0 && errno == EINTR);
    if (n != (ssize_t)sizeof bytes)
        return mil_fail(ctx, MILORI_ERR_OPEN, "the system gives no random numbers; try again");
    for (size_t i = 0; i < sizeof bytes; i++)
        snprintf(guard->key + 2 * i, 3, "%02x", bytes[i]);
    return MILORI_OK;
}

/* The page's own place, by either of its names. */
static bool own_host(const mil_guard *guard, const char *host) {
    char number[32], name[32];
    snprintf(number, sizeof number, "127.0.0.1:%d", guard->port);
    snprintf(name, sizeof name, "localhost:%d", guard->port);
    return host && (strcasecmp(host, number) == 0 || strcasecmp(host, name) == 0);
}

static bool own_origin(const mil_guard *guard, const char *origin) {
    static const char scheme[] = "http://";
    return strncmp(origin, scheme, sizeof scheme - 1) == 0 &&
           own_host(guard, origin + sizeof scheme - 1);
}

/* In the same time wherever the first difference lies. */
static bool same_key(const mil_guard *guard, const char *key) {
    unsigned differs = 0;
    if (strlen(key) < MIL_KEY_DIGITS)
        return false;
    for (int i = 0; i < MIL_KEY_DIGITS; i++)
        differs |= (unsigned)(guard->key[i] ^ key[i]);
    return differs == 0;
}

/* What a file of the page may be called: no way out of it. */
static bool plain_path(const char *path) {
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyz0123456789-_./";
    return strspn(path, allowed) == strlen(path) && !strstr(path, "..");
}

static bool is_json(const char *type) {
    static const char json[] = "application/json";
    size_t n = sizeof json - 1;
    return type && strncasecmp(type, json, n) == 0 && (type[n] == 0 || type[n] == ';');
}

static int check_post(const mil_caller *caller) {
    double length = 0;
    if (!is_json(caller->type))
        return 415;
    if (caller->length && (!mil_parse_number(caller->length, &length) || length > MIL_BODY_MOST))
        return 413;
    return 0;
}

int mil_guard_check(const mil_guard *guard, const mil_caller *caller, const char **path) {
    bool post = strcmp(caller->method, "POST") == 0;
    if (!own_host(guard, caller->host))
        return 421; /* misdirected: another name leads here */
    if (caller->origin && !own_origin(guard, caller->origin))
        return 403;
    if (caller->site && strcmp(caller->site, "same-origin") != 0 &&
        strcmp(caller->site, "none") != 0)
        return 403;
    if (caller->url[0] != '/' || !same_key(guard, caller->url + 1) ||
        caller->url[1 + MIL_KEY_DIGITS] != '/')
        return 403;
    *path = caller->url + 2 + MIL_KEY_DIGITS;
    if (!plain_path(*path))
        return 404;
    if (!post && strcmp(caller->method, "GET") != 0)
        return 405;
    return post ? check_post(caller) : 0;
}
