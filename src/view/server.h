/* A small HTTP server for this machine's own browser, through libmicrohttpd.
 *
 * It listens on the loopback interface alone. Its address holds a random key
 * without which nothing is answered; a request's Host must be that address, its
 * Origin too where it has one, and what changes anything must come as JSON. Bodies
 * and connections are limited in size, number and time. */
#ifndef MILORI_SERVER_H
#define MILORI_SERVER_H

#include "base/base.h"

typedef struct mil_request {
    const char *path; /* after the key: "" or "api/picture"; no NUL, no dots */
    bool post;
    const char *body; /* of a post, with a NUL after it; "" else */
    size_t size;
} mil_request;

/* What is said to a request. body is freed by the server unless kept says that it
 * stays as it is. extra: value of the header Milori-Size, or "". */
typedef struct mil_answer {
    int status; /* of HTTP */
    const char *type;
    const void *body;
    size_t size;
    bool kept;
    char extra[64];
} mil_answer;

typedef void mil_answerer(void *data, const mil_request *request, mil_answer *answer);

typedef struct mil_server mil_server;

/* port 0: one that is free. answerer is called by mil_server_step() alone, one
 * request at a time. */
milori_status mil_server_new(milori_context *ctx, int port, mil_answerer *answerer, void *data,
                             mil_server **server);
/* "http://127.0.0.1:PORT/KEY/" */
const char *mil_server_address(const mil_server *server);
/* Answers what has come, or waits up to milliseconds for something to come. */
milori_status mil_server_step(milori_context *ctx, mil_server *server, int milliseconds);
void mil_server_free(mil_server *server);

#endif
