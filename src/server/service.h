// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the server answers, without sockets: one request in, one answer out. Safe from several threads at once.
#pragma once

#include <chrono>
#include <cstddef>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "shimsight/server.h"

namespace shimsight::server {

/// Largest body of a request: a piece of a photo, or two drawn flank maps as text.
inline constexpr std::size_t kMaxBodyBytes = 1'200'000;
/// A piece of a photo as the page sends it.
inline constexpr std::size_t kPieceBytes = 262'144;
inline constexpr std::size_t kMaxPathBytes = 512;

struct HttpRequest {
    std::string method, path;
    std::map<std::string, std::string> query;
    std::string token, origin, host, id, ifNoneMatch;  ///< of headers; `id`: made by the sender for this change
    std::string client;                                ///< address
    std::string reached;                               ///< address of this computer that the request came to
    std::string body;
};

struct HttpResponse {
    int status = 200;
    std::string type = "application/json";
    std::string body;
    std::vector<std::pair<std::string, std::string>> headers;
    std::string_view lasting{};  ///< in place of `body`: text that outlives the program
};

/// Headers that every answer bears.
const std::vector<std::pair<std::string, std::string>>& safeHeaders();

/// `text` is JSON. Broken UTF-8 in a document is replaced.
HttpResponse jsonAnswer(std::string text, int status = 200);
HttpResponse jsonAnswer(const nlohmann::json& document, int status = 200);
HttpResponse refusal(int status, const std::string& sentence);

class Service {
public:
    explicit Service(const ServerOptions& options);
    ~Service();
    Service(const Service&) = delete;
    Service& operator=(const Service&) = delete;

    /// Who may not, or too often: refused by the header alone, before a body is read; nullopt: it may go on. Quick.
    std::optional<HttpResponse> admit(const HttpRequest& ask);
    /// What was admitted, its body whole.
    HttpResponse handle(const HttpRequest& ask);
    /// Both in turn.
    HttpResponse answer(const HttpRequest& ask);
    std::string token() const;
    /// Takes no new trials, and returns when those accepted are read, or after `patience` when the one in hand is; the
    /// others stay queued on the disk.
    void finish(std::chrono::seconds patience);

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace shimsight::server
