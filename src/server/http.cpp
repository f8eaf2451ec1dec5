// The only file that sees the HTTP library: its header defines names that break others.
#include <arpa/inet.h>
#include <httplib.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include <array>
#include <atomic>
#include <cstring>
#include <memory>

#include "server/service.h"
#include "shimsight/server.h"

namespace shimsight {
namespace {

using server::Answer;
using server::Ask;

/// Connections at the same time: ten phones open six each. One that is idle is let go soon.
constexpr std::size_t kThreads = 64;
constexpr int kKeepAliveSeconds = 2, kReadSeconds = 15, kWriteSeconds = 30, kBacklog = 128;
constexpr std::size_t kKeepAliveRequests = 200;
constexpr std::chrono::seconds kStopPatience{10};
/// Larger answers go as they are: the library packs with Brotli at its slowest, over a second for half a megabyte,
/// which the shop's network carries in a moment.
constexpr std::size_t kMostPackedBytes = 24'576;

Ask askOf(const httplib::Request& request) {
    Ask ask;
    ask.method = request.method == "HEAD" ? "GET" : request.method;
    ask.path = request.path;
    for (const auto& [key, value] : request.params) ask.query.try_emplace(key, value);
    ask.token = request.get_header_value("X-Shimsight-Token");
    ask.id = request.get_header_value("X-Shimsight-Request");
    ask.origin = request.get_header_value("Origin");
    ask.host = request.get_header_value("Host");
    ask.ifNoneMatch = request.get_header_value("If-None-Match");
    ask.client = request.remote_addr;
    ask.body = request.body;
    return ask;
}

void fill(httplib::Response& response, const Answer& answer) {
    response.status = answer.status;
    for (const auto& [key, value] : answer.headers) response.set_header(key.c_str(), value);
    for (const auto& [key, value] : server::safeHeaders())
        if (!response.has_header(key.c_str())) response.set_header(key.c_str(), value);
    if (answer.status == 304) return;
    if (answer.body.size() <= kMostPackedBytes) {
        response.set_content(answer.body, answer.type.c_str());
        return;
    }
    const auto body = std::make_shared<const std::string>(answer.body);
    response.set_content_provider(body->size(), answer.type.c_str(),
                                  [body](std::size_t from, std::size_t length, httplib::DataSink& sink) {
                                      return sink.write(body->data() + from, length);
                                  });
}

/// What the library itself refuses: broken requests, bodies that are too large.
Answer refusalOf(int status) {
    if (status == 413)
        return server::refusal(status, "This is too large to be taken. Send the photo in pieces, or a smaller one.");
    if (status == 414) return server::refusal(status, "The address is too long.");
    return server::refusal(status, "This request cannot be understood.");
}

/// Addresses of this computer's networks that are up, IPv4 first in the order of the interfaces.
std::vector<std::string> networkAddresses() {
    std::vector<std::string> found;
    ifaddrs* list = nullptr;
    if (getifaddrs(&list) != 0) return found;
    const std::unique_ptr<ifaddrs, void (*)(ifaddrs*)> owner(list, freeifaddrs);
    for (const ifaddrs* one = list; one != nullptr; one = one->ifa_next) {
        if (one->ifa_addr == nullptr || one->ifa_addr->sa_family != AF_INET) continue;
        if ((one->ifa_flags & IFF_UP) == 0 || (one->ifa_flags & IFF_LOOPBACK) != 0) continue;
        sockaddr_in address{};
        std::memcpy(&address, one->ifa_addr, sizeof address);
        std::array<char, INET_ADDRSTRLEN> text{};
        if (inet_ntop(AF_INET, &address.sin_addr, text.data(), text.size()) != nullptr) found.emplace_back(text.data());
    }
    return found;
}

}  // namespace

struct Server::State {
    ServerOptions options;
    server::Service service;
    httplib::Server http;
    int port = 0;
    int socket = -1;
    std::atomic<bool> stopped{false};

    explicit State(ServerOptions given) : options(std::move(given)), service(options) {}
};

Server::Server(ServerOptions options) : state_(std::make_unique<State>(std::move(options))) {
    State& state = *state_;
    httplib::Server& http = state.http;
    http.new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
    http.set_payload_max_length(server::kMostBodyBytes);
    http.set_keep_alive_max_count(kKeepAliveRequests);
    http.set_keep_alive_timeout(kKeepAliveSeconds);
    http.set_read_timeout(kReadSeconds);
    http.set_write_timeout(kWriteSeconds);
    http.set_tcp_nodelay(true);
    http.set_socket_options([&state](int socket) {
        // Not SO_REUSEPORT, the library's own choice: two servers on one port would share the phones between them.
        const int yes = 1;
        setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
        state.socket = socket;
    });
    const auto handler = [&state](const httplib::Request& request, httplib::Response& response) {
        fill(response, state.service.answer(askOf(request)));
    };
    http.set_pre_routing_handler([](const httplib::Request& request, httplib::Response& response) {
        if (request.path.size() <= server::kMostPathBytes) return httplib::Server::HandlerResponse::Unhandled;
        // Before the routes are tried, which take stack for each letter of the path.
        fill(response, refusalOf(414));
        return httplib::Server::HandlerResponse::Handled;
    });
    http.Get(".*", handler);
    http.Post(".*", handler);
    http.Put(".*", handler);
    http.Delete(".*", handler);
    http.set_error_handler([](const httplib::Request&, httplib::Response& response) {
        if (response.body.empty() && response.status != 304) fill(response, refusalOf(response.status));
    });
    const char* host = state.options.lan ? "0.0.0.0" : "127.0.0.1";
    if (state.options.port == 0)
        state.port = http.bind_to_any_port(host);
    else if (http.bind_to_port(host, state.options.port))
        state.port = state.options.port;
    if (state.port <= 0)
        throw InputError("Port " + std::to_string(state.options.port) +
                         " cannot be opened: another program has it. Give another one with --port.");
    // The library asks for a short queue; fifty phones at once do not fit it.
    ::listen(state.socket, kBacklog);
}

Server::~Server() { stop(); }

int Server::port() const { return state_->port; }
const std::string& Server::token() const { return state_->service.token(); }

std::vector<std::string> Server::pairingAddresses() const {
    std::vector<std::string> hosts;
    if (state_->options.lan) hosts = networkAddresses();
    if (hosts.empty()) hosts.emplace_back("127.0.0.1");
    for (std::string& host : hosts) host = "http://" + host + ":" + std::to_string(port()) + "/#" + token();
    return hosts;
}

void Server::run() {
    if (!state_->stopped) state_->http.listen_after_bind();
    state_->service.finish(kStopPatience);
}

void Server::stop() {
    state_->stopped = true;
    state_->http.stop();
}

}  // namespace shimsight
