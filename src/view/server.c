#include "view/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "view/server_guard.h"

enum { CONNECTIONS = 32, SECONDS_IDLE = 20, CONNECTION_BYTES = 32768 };

struct mil_server {
    mil_guard guard;
    mil_answerer *answerer;
    void *data;
    struct MHD_Daemon *daemon;
    char address[96];
};

/* One request on its way in. */
typedef struct incoming {
    const char *path;
    char *body;
    size_t size;
    bool too_large;
} incoming;

/* Nothing from outside, nothing kept, nothing shown inside another page. */
static const char *const headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
     "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cache-Control", "no-store"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"}};

static enum MHD_Result queue(struct MHD_Connection *connection, const mil_answer *answer) {
    struct MHD_Response *response = MHD_create_response_from_buffer(
        answer->size, (void *)answer->body,
        answer->kept ? MHD_RESPMEM_PERSISTENT : MHD_RESPMEM_MUST_FREE);
    if (!response) {
        if (!answer->kept)
            free((void *)answer->body);
        return MHD_NO;
    }
    for (size_t i = 0; i < sizeof headers / sizeof *headers; i++)
        MHD_add_response_header(response, headers[i][0], headers[i][1]);
    MHD_add_response_header(response, "Content-Type", answer->type);
    if (answer->extra[0])
        MHD_add_response_header(response, "Milori-Size", answer->extra);
    enum MHD_Result result = MHD_queue_response(connection, (unsigned)answer->status, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result refuse(struct MHD_Connection *connection, int status) {
    mil_answer answer = {
        .status = status, .type = "text/plain", .body = "no\n", .size = 3, .kept = true};
    return queue(connection, &answer);
}

static const char *header(struct MHD_Connection *connection, const char *name) {
    return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static enum MHD_Result begin(mil_server *server, struct MHD_Connection *connection, const char *url,
                             const char *method, void **state) {
    const mil_caller caller = {.method = method,
                               .url = url,
                               .host = header(connection, "Host"),
                               .origin = header(connection, "Origin"),
                               .site = header(connection, "Sec-Fetch-Site"),
                               .type = header(connection, "Content-Type"),
                               .length = header(connection, "Content-Length")};
    const char *path = "";
    int status = mil_guard_check(&server->guard, &caller, &path);
    if (status)
        return refuse(connection, status);
    incoming *in = calloc(1, sizeof *in);
    if (!in)
        return MHD_NO;
    in->path = path;
    *state = in;
    return MHD_YES;
}

/* Whatever its length was said to be, no more than MIL_BODY_MOST is kept. */
static enum MHD_Result take(incoming *in, const char *data, size_t *size) {
    if (in->too_large || *size > MIL_BODY_MOST - in->size) {
        in->too_large = true;
        return MHD_NO; /* ends the connection: who sends so much does not listen */
    }
    char *body = realloc(in->body, in->size + *size + 1);
    if (!body)
        return MHD_NO;
    memcpy(body + in->size, data, *size);
    in->body = body;
    in->size += *size;
    body[in->size] = 0;
    *size = 0;
    return MHD_YES;
}

static enum MHD_Result on_request(void *data, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *upload,
                                  size_t *upload_size, void **state) {
    mil_server *server = data;
    incoming *in = *state;
    (void)version;
    if (!in)
        return begin(server, connection, url, method, state);
    if (*upload_size)
        return take(in, upload, upload_size);
    const mil_request request = {.path = in->path,
                                 .post = strcmp(method, "POST") == 0,
                                 .body = in->body ? in->body : "",
                                 .size = in->size};
    mil_answer answer = {.status = 500, .type = "text/plain", .body = "", .kept = true};
    server->answerer(server->data, &request, &answer);
    return queue(connection, &answer);
}

static void on_end(void *data, struct MHD_Connection *connection, void **state,
                   enum MHD_RequestTerminationCode why) {
    (void)data, (void)connection, (void)why;
    incoming *in = *state;
    if (in)
        free(in->body);
    free(in);
    *state = NULL;
}

/* libmicrohttpd's own words go nowhere: a bad request is no news. */
static void be_quiet(void *data, const char *format, va_list list) {
    (void)data, (void)format, (void)list;
}

static milori_status listen_at(milori_context *ctx, mil_server *server, int port) {
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons((uint16_t)port),
                             .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    errno = 0;
    server->daemon = MHD_start_daemon(
        MHD_USE_EPOLL | MHD_USE_ERROR_LOG, 0, NULL, NULL, on_request, server,
        MHD_OPTION_EXTERNAL_LOGGER, be_quiet, NULL, MHD_OPTION_SOCK_ADDR, &at,
        MHD_OPTION_NOTIFY_COMPLETED, on_end, NULL, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)SECONDS_IDLE,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_BYTES, MHD_OPTION_END);
    const union MHD_DaemonInfo *info =
        server->daemon ? MHD_get_daemon_info(server->daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (!info)
        return mil_fail(ctx, MILORI_ERR_OPEN,
                        "cannot listen on this machine's port %d (%s); name another", port,
                        errno ? strerror(errno) : "it is taken");
    server->guard.port = info->port;
    return MILORI_OK;
}

milori_status mil_server_new(milori_context *ctx, int port, mil_answerer *answerer, void *data,
                             mil_server **out) {
    mil_server *server = mil_alloc(ctx, 1, sizeof *server);
    if (!server)
        return MILORI_ERR_MEMORY;
    server->answerer = answerer;
    server->data = data;
    milori_status status = mil_guard_key(ctx, &server->guard);
    if (status == MILORI_OK)
        status = listen_at(ctx, server, port);
    if (status != MILORI_OK) {
        mil_server_free(server);
        return status;
    }
    snprintf(server->address, sizeof server->address, "http://127.0.0.1:%d/%s/", server->guard.port,
             server->guard.key);
    *out = server;
    return MILORI_OK;
}

const char *mil_server_address(const mil_server *server) {
    return server->address;
}

milori_status mil_server_step(milori_context *ctx, mil_server *server, int milliseconds) {
    if (MHD_run_wait(server->daemon, milliseconds) == MHD_YES)
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_OPEN, "the page's server failed; start it again");
}

void mil_server_free(mil_server *server) {
    if (!server)
        return;
    if (server->daemon)
        MHD_stop_daemon(server->daemon);
    free(server);
}
