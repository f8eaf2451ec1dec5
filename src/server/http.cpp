// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The only file that sees the HTTP library, libmicrohttpd. One thread of it serves all connections by epoll, so that a
// slow client costs a descriptor and a few kilobytes and no thread; answers are made by a few threads of ours.
//
// What nobody has paired for is refused before any of it is kept: a header block has a bound (the memory of its
// connection), a body needs its length before it, bears no coding and is kept only when the token was right;
// connections have bounds for each address and in time (connections.h).
#include <arpa/inet.h>
#include <ifaddrs.h>
#include <microhttpd.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <charconv>
#include <condition_variable>
#include <cstring>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <system_error>
#include <thread>

#include "server/certificate.h"
#include "server/connections.h"
#include "server/guard.h"
#include "server/service.h"
#include "shimsight/files.h"
#include "shimsight/server.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using server::Connections;
using server::HttpRequest;
using server::HttpResponse;
using server::Phase;

constexpr int kAnswering = 8;  ///< threads that make answers; trials are read by others
constexpr int kBacklog = 256;
/// All that a connection takes beside its body: header block, address and its words, the answer's header.
constexpr std::size_t kConnectionBytes = 32'768;
/// Bodies on their way, of all connections together; one has server::kMaxBodyBytes at most.
constexpr std::size_t kMaxBodiesBytes = 48'000'000;
/// The library's own bounds lie above ours, which make room instead of refusing.
constexpr unsigned kLibraryConnections = 640, kSilentSeconds = 30;
constexpr std::chrono::seconds kStopPatience{10}, kLastAnswers{2};
constexpr std::chrono::milliseconds kPause{500}, kShortPause{10};

/// Bytes of bodies that are held at the moment.
std::atomic<std::size_t> bodiesBytes{0};

/// One request on its way through.
struct Exchange {
    HttpRequest ask;
    std::optional<HttpResponse> answer;
    bool seen = false;  ///< its header
    bool badAddress = false;
    std::size_t held = 0;  ///< of bodiesBytes
    MHD_Connection* connection = nullptr;
    Exchange() = default;
    ~Exchange() { bodiesBytes -= held; }
    Exchange(const Exchange&) = delete;
    Exchange& operator=(const Exchange&) = delete;
};

std::string headerOf(MHD_Connection* connection, const char* name) {
    const char* value = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
    return value == nullptr ? std::string() : std::string(value);
}

std::string addressOf(const sockaddr* address) {
    std::array<char, INET6_ADDRSTRLEN> text{};
    if (address != nullptr && address->sa_family == AF_INET)
        inet_ntop(AF_INET, &reinterpret_cast<const sockaddr_in*>(address)->sin_addr, text.data(), text.size());
    else if (address != nullptr && address->sa_family == AF_INET6)
        inet_ntop(AF_INET6, &reinterpret_cast<const sockaddr_in6*>(address)->sin6_addr, text.data(), text.size());
    return text.data();
}

MHD_Result addWord(void* query, MHD_ValueKind /*kind*/, const char* key, const char* value) {
    static_cast<std::map<std::string, std::string>*>(query)->try_emplace(key, value == nullptr ? "" : value);
    return MHD_YES;
}

void fillAsk(HttpRequest& ask, MHD_Connection* connection, const char* url, std::string_view method) {
    ask.method = method == MHD_HTTP_METHOD_HEAD ? MHD_HTTP_METHOD_GET : std::string(method);
    ask.path = url;
    MHD_get_connection_values(connection, MHD_GET_ARGUMENT_KIND, addWord, &ask.query);
    ask.token = headerOf(connection, "X-Shimsight-Token");
    ask.id = headerOf(connection, "X-Shimsight-Request");
    ask.origin = headerOf(connection, "Origin");
    ask.host = headerOf(connection, "Host");
    ask.ifNoneMatch = headerOf(connection, "If-None-Match");
    const MHD_ConnectionInfo* info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    ask.client = addressOf(info == nullptr ? nullptr : info->client_addr);
    const MHD_ConnectionInfo* own = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    sockaddr_storage reached{};
    socklen_t length = sizeof reached;
    if (own != nullptr && ::getsockname(own->connect_fd, reinterpret_cast<sockaddr*>(&reached), &length) == 0)
        ask.reached = addressOf(reinterpret_cast<const sockaddr*>(&reached));
}

/// The length of the body that the header tells; nullopt: nonsense.
std::optional<std::size_t> lengthOf(MHD_Connection* connection) {
    const std::string length = headerOf(connection, "Content-Length");
    std::size_t bytes = 0;
    const auto [end, error] = std::from_chars(length.data(), length.data() + length.size(), bytes);
    if (!length.empty() && (error != std::errc() || end != length.data() + length.size())) return std::nullopt;
    return bytes;
}

/// Whether the body that belongs to a refused request is taken and thrown away, piece by piece, before it is answered:
/// a sender that is cut off while it sends never sees the answer.
bool isDrained(MHD_Connection* connection) {
    constexpr std::size_t kMaxDrained = 4'000'000;
    const std::optional<std::size_t> length = lengthOf(connection);
    return headerOf(connection, "Transfer-Encoding").empty() && length && *length > 0 && *length <= kMaxDrained;
}

/// What is refused by its header alone, whoever sends it.
std::optional<HttpResponse> refusedByHeader(const Exchange& exchange, MHD_Connection* connection) {
    const HttpRequest& ask = exchange.ask;
    if (ask.path.size() > server::kMaxPathBytes) return server::refusal(414, say("server.address-too-long"));
    if (exchange.badAddress) return server::refusal(404, say("server.nothing-at-this-address"));
    if (!headerOf(connection, "Transfer-Encoding").empty()) return server::refusal(411, say("server.length-missing"));
    if (!headerOf(connection, "Content-Encoding").empty()) return server::refusal(415, say("server.sent-packed"));
    const std::optional<std::size_t> bytes = lengthOf(connection);
    if (!bytes) return server::refusal(400, say("server.request-not-understood"));
    if (*bytes > server::kMaxBodyBytes) return server::refusal(413, say("server.too-large"));
    if (*bytes > 0 && ask.method == MHD_HTTP_METHOD_GET) return server::refusal(400, say("server.takes-nothing"));
    return std::nullopt;
}

void freeBody(void* body) { delete static_cast<std::string*>(body); }

MHD_Result queue(MHD_Connection* connection, HttpResponse& answer) {
    auto body = std::make_unique<std::string>(answer.status == 304 ? std::string() : std::move(answer.body));
    const std::string_view text = answer.status == 304 ? std::string_view() : answer.lasting;
    MHD_Response* response =
        text.empty()
            ? MHD_create_response_from_buffer_with_free_callback_cls(body->size(), body->data(), freeBody, body.get())
            : MHD_create_response_from_buffer(text.size(), const_cast<char*>(text.data()), MHD_RESPMEM_PERSISTENT);
    if (response == nullptr) return MHD_NO;
    if (text.empty()) (void)body.release();  // its response has it now
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, answer.type.c_str());
    for (const auto& [key, value] : answer.headers) MHD_add_response_header(response, key.c_str(), value.c_str());
    for (const auto& [key, value] : server::safeHeaders())
        if (MHD_get_response_header(response, key.c_str()) == nullptr)
            MHD_add_response_header(response, key.c_str(), value.c_str());
    const MHD_Result queued = MHD_queue_response(connection, static_cast<unsigned>(answer.status), response);
    MHD_destroy_response(response);
    return queued;
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
        found.push_back(addressOf(one->ifa_addr));
    }
    return found;
}

/// By what this computer is called in an address: itself, and in the shop's network.
std::vector<std::string> ownHosts(bool lan) {
    std::vector<std::string> hosts{"localhost", "127.0.0.1"};
    if (!lan) return hosts;
    std::array<char, 256> name{};
    if (::gethostname(name.data(), name.size() - 1) == 0 && name[0] != '\0' &&
        std::strchr(name.data(), ',') == nullptr) {
        hosts.emplace_back(name.data());
        hosts.push_back(std::string(name.data()) + ".local");
    }
    for (std::string& address : networkAddresses()) hosts.push_back(std::move(address));
    return hosts;
}

std::string pemOf(const std::filesystem::path& file) {
    constexpr std::int64_t kMaxPemBytes = 200'000;
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxPemBytes);
    return {bytes.begin(), bytes.end()};
}

/// A socket that listens on `port` (0: any free one) of loopback, or of all addresses.
int openPort(bool lan, int port) {
    const auto fail = [&](int problem, int socket) {
        if (socket >= 0) ::close(socket);
        if (problem == EADDRINUSE || problem == EACCES) throw InputError(message("server.port-taken", port));
        throw InputError(message("server.port-not-opened", port, std::generic_category().message(problem)));
    };
    const int socket = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (socket < 0) fail(errno, socket);
    // Not SO_REUSEPORT: two servers on one port would share the phones between them.
    const int yes = 1;
    setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(port));
    address.sin_addr.s_addr = htonl(lan ? INADDR_ANY : INADDR_LOOPBACK);
    if (::bind(socket, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0 ||
        ::listen(socket, kBacklog) != 0)
        fail(errno, socket);
    return socket;
}

int portOf(int socket) {
    sockaddr_in address{};
    socklen_t length = sizeof address;
    if (::getsockname(socket, reinterpret_cast<sockaddr*>(&address), &length) != 0)
        throw InputError(message("server.no-port-opened"));
    return ntohs(address.sin_port);
}

}  // namespace

struct Server::State {
    explicit State(ServerOptions given);
    ~State();
    State(const State&) = delete;
    State& operator=(const State&) = delete;

    void readCertificate();
    void begin();
    void end();
    void work();
    void watch();
    MHD_Result take(Exchange& exchange, MHD_Connection* connection, const char* url, const char* method);
    MHD_Result addTo(Exchange& exchange, std::string_view piece);
    void turn(MHD_Connection* connection, Phase phase);
    MHD_Result answer(MHD_Connection* connection, Exchange& exchange);

    // As the library calls them; the first argument is always this.
    static void* onAddress(void* self, const char* uri, MHD_Connection* connection);
    static MHD_Result onRequest(void* self, MHD_Connection* connection, const char* url, const char* method,
                                const char* version, const char* data, std::size_t* size, void** exchange);
    static void onDone(void* self, MHD_Connection* connection, void** exchange, MHD_RequestTerminationCode code);
    static void onConnection(void* self, MHD_Connection* connection, void** place, MHD_ConnectionNotificationCode code);
    static MHD_Result mayCome(void* self, const sockaddr* address, socklen_t length);

    ServerOptions options;
    server::Service service;
    std::string certificate, key;  ///< PEM, where the traffic is encrypted; the library keeps pointers to them
    std::string fingerprint;       ///< of the certificate, hexadecimal digits
    Connections connections;
    int socket = -1;
    int port = 0;
    MHD_Daemon* daemon = nullptr;
    std::mutex guard;
    std::condition_variable changed;
    std::deque<Exchange*> asked;
    const std::string noMemory = say("server.no-memory");  ///< made while there is some
    bool stopped = false, ending = false;
    std::vector<std::thread> threads;
};

Server::State::State(ServerOptions given)
    : options(std::move(given)),
      service(options),
      connections({}, [](int one) { ::shutdown(one, SHUT_RDWR); }),
      socket(openPort(options.lan, options.port)) {
    try {
        port = portOf(socket);
        if (options.encryption != Encryption::None) readCertificate();
        begin();
    } catch (...) {
        end();
        throw;
    }
}

Server::State::~State() { end(); }

/// After the service, which holds its folder alone.
void Server::State::readCertificate() {
    if (options.encryption == Encryption::Own)
        options.tls = server::ownCertificate(options.jobs / server::kOwnFolder, ownHosts(options.lan));
    certificate = pemOf(options.tls.certificate);
    key = pemOf(options.tls.key);
    fingerprint = server::fingerprintOf(certificate);
}

void Server::State::begin() {
    std::vector<MHD_OptionItem> encryption;
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ITC;
    if (options.encryption != Encryption::None) {
        flags |= MHD_USE_TLS;
        encryption.push_back({MHD_OPTION_HTTPS_MEM_CERT, 0, certificate.data()});
        encryption.push_back({MHD_OPTION_HTTPS_MEM_KEY, 0, key.data()});
    }
    encryption.push_back({MHD_OPTION_END, 0, nullptr});
    daemon = MHD_start_daemon(flags, 0, mayCome, this, onRequest, this, MHD_OPTION_LISTEN_SOCKET, socket,
                              MHD_OPTION_CONNECTION_LIMIT, kLibraryConnections, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
                              kConnectionBytes, MHD_OPTION_CONNECTION_TIMEOUT, kSilentSeconds,
                              MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_URI_LOG_CALLBACK, onAddress, this,
                              MHD_OPTION_NOTIFY_COMPLETED, onDone, this, MHD_OPTION_NOTIFY_CONNECTION, onConnection,
                              this, MHD_OPTION_ARRAY, encryption.data(), MHD_OPTION_END);
    if (daemon == nullptr && options.encryption != Encryption::None)
        throw InputError(message("server.tls-not-usable", options.tls.certificate.string(), options.tls.key.string()));
    if (daemon == nullptr) throw InputError(message("server.no-memory-for-a-server"));
    try {
        for (int i = 0; i < kAnswering; ++i) threads.emplace_back([this] { work(); });
        threads.emplace_back([this] { watch(); });
    } catch (const std::system_error&) {
        throw InputError(message("server.no-memory-for-a-server"));
    }
}

/// Everything that has been asked is answered first; what is still being sent is not waited for.
void Server::State::end() {
    if (daemon != nullptr) (void)MHD_quiesce_daemon(daemon);
    {
        const std::lock_guard lock(guard);
        ending = true;
        changed.notify_all();
    }
    for (std::thread& thread : threads) thread.join();
    threads.clear();
    if (daemon != nullptr) {
        const auto last = Connections::Clock::now() + kLastAnswers;
        while (connections.answering() > 0 && Connections::Clock::now() < last)
            std::this_thread::sleep_for(kShortPause);
        MHD_stop_daemon(daemon);
        daemon = nullptr;
    }
    if (socket >= 0) ::close(std::exchange(socket, -1));
}

void Server::State::work() {
    std::unique_lock lock(guard);
    while (true) {
        changed.wait(lock, [this] { return ending || !asked.empty(); });
        if (asked.empty()) return;
        Exchange* exchange = asked.front();
        asked.pop_front();
        lock.unlock();
        try {
            exchange->answer = service.handle(exchange->ask);
        } catch (...) {
            exchange->answer = HttpResponse{500, "text/plain", "", {}, noMemory};
        }
        MHD_resume_connection(exchange->connection);
        lock.lock();
    }
}

void Server::State::watch() {
    std::unique_lock lock(guard);
    while (!changed.wait_for(lock, kPause, [this] { return ending; })) {
        lock.unlock();
        connections.endSlow(Connections::Clock::now());
        lock.lock();
    }
}

void Server::State::turn(MHD_Connection* connection, Phase phase) {
    const MHD_ConnectionInfo* info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    // None where there was no memory for it.
    if (auto* place = static_cast<Connections::Place*>(info->socket_context); place != nullptr)
        connections.turn(*place, phase, Connections::Clock::now());
}

MHD_Result Server::State::answer(MHD_Connection* connection, Exchange& exchange) {
    turn(connection, Phase::Taking);
    return queue(connection, *exchange.answer);
}

/// A header is there. What it says decides whether its body is kept, or taken at all.
MHD_Result Server::State::take(Exchange& exchange, MHD_Connection* connection, const char* url, const char* method) {
    exchange.seen = true;
    exchange.connection = connection;
    fillAsk(exchange.ask, connection, url, method);
    exchange.answer = service.admit(exchange.ask);
    if (!exchange.answer) exchange.answer = refusedByHeader(exchange, connection);
    if (exchange.answer && !isDrained(connection)) return answer(connection, exchange);
    turn(connection, Phase::Sending);
    return MHD_YES;
}

MHD_Result Server::State::addTo(Exchange& exchange, std::string_view piece) {
    if (exchange.answer) return MHD_YES;
    if (exchange.ask.body.size() + piece.size() > server::kMaxBodyBytes) return MHD_NO;
    exchange.held += piece.size();
    if ((bodiesBytes += piece.size()) > kMaxBodiesBytes) {
        exchange.answer = server::refusal(503, say("server.too-much-at-once"));
        exchange.answer->headers.emplace_back("Retry-After", "2");
        exchange.ask.body = {};
        return MHD_YES;
    }
    exchange.ask.body += piece;
    return MHD_YES;
}

MHD_Result Server::State::onRequest(void* self, MHD_Connection* connection, const char* url, const char* method,
                                    const char* /*version*/, const char* data, std::size_t* size, void** given) {
    State& state = *static_cast<State*>(self);
    if (*given == nullptr) return MHD_NO;
    Exchange& exchange = *static_cast<Exchange*>(*given);
    try {
        if (!exchange.seen) return state.take(exchange, connection, url, method);
        if (*size > 0) {
            const std::string_view piece(data, *size);
            *size = 0;
            return state.addTo(exchange, piece);
        }
        if (exchange.answer) return state.answer(connection, exchange);
        // What lies in memory is answered at once, everything else by the threads for it.
        if (!exchange.ask.path.starts_with("/api")) {
            exchange.answer = state.service.handle(exchange.ask);
            return state.answer(connection, exchange);
        }
        state.turn(connection, Phase::Working);
        MHD_suspend_connection(connection);
        const std::lock_guard lock(state.guard);
        state.asked.push_back(&exchange);
        state.changed.notify_all();
        return MHD_YES;
    } catch (const std::bad_alloc&) {
        return MHD_NO;  // the connection is closed, and its memory comes back
    }
}

/// The first that is known of a request: its address as it came.
void* Server::State::onAddress(void* /*self*/, const char* uri, MHD_Connection* /*connection*/) {
    auto* exchange = new (std::nothrow) Exchange;
    // The library would end the text there.
    if (exchange != nullptr) exchange->badAddress = std::strstr(uri, "%00") != nullptr;
    return exchange;
}

void Server::State::onDone(void* self, MHD_Connection* connection, void** exchange,
                           MHD_RequestTerminationCode /*code*/) {
    State& state = *static_cast<State*>(self);
    delete static_cast<Exchange*>(*exchange);
    *exchange = nullptr;
    state.turn(connection, Phase::Waiting);
}

void Server::State::onConnection(void* self, MHD_Connection* connection, void** place,
                                 MHD_ConnectionNotificationCode code) {
    State& state = *static_cast<State*>(self);
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        const std::unique_ptr<Connections::Place> old(static_cast<Connections::Place*>(*place));
        if (old) state.connections.remove(*old);
        return;
    }
    const MHD_ConnectionInfo* address = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const std::string from = addressOf(address == nullptr ? nullptr : address->client_addr);
    const MHD_ConnectionInfo* own = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    try {
        *place = new Connections::Place(state.connections.add(from, own->connect_fd, Connections::Clock::now()));
    } catch (const std::bad_alloc&) {
        *place = nullptr;
    }
}

MHD_Result Server::State::mayCome(void* self, const sockaddr* address, socklen_t /*length*/) {
    return static_cast<State*>(self)->connections.admit(addressOf(address)) ? MHD_YES : MHD_NO;
}

Server::Server(ServerOptions options) : state_(std::make_unique<State>(std::move(options))) {}
Server::~Server() = default;

int Server::port() const { return state_->port; }
std::string Server::token() const { return state_->service.token(); }

std::vector<std::string> Server::pairingAddresses() const {
    std::vector<std::string> hosts;
    if (state_->options.lan) hosts = networkAddresses();
    if (hosts.empty()) hosts.emplace_back("127.0.0.1");
    const std::string& print = state_->fingerprint;
    for (std::string& host : hosts)
        host = (print.empty() ? "http://" : "https://") + host + ":" + std::to_string(port()) + "/#" + token() +
               (print.empty() ? "" : "-" + print);
    return hosts;
}

std::string Server::fingerprint() const { return server::fingerprintForEyes(state_->fingerprint); }

void Server::run() {
    State& state = *state_;
    {
        std::unique_lock lock(state.guard);
        state.changed.wait(lock, [&] { return state.stopped; });
    }
    // Phones that are connected may still ask how their trials go on; nobody else may come.
    (void)MHD_quiesce_daemon(state.daemon);
    state.service.finish(kStopPatience);
    state.end();
}

void Server::stop() {
    const std::lock_guard lock(state_->guard);
    state_->stopped = true;
    state_->changed.notify_all();
}

}  // namespace shimsight
