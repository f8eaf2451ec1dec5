// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/certificate.h"

#include <arpa/inet.h>
#include <openssl/ec.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509v3.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdint>
#include <memory>
#include <span>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

template <typename T>
using Owned = std::unique_ptr<T, void (*)(T*)>;
using Key = Owned<EVP_PKEY>;
using Certificate = Owned<X509>;

constexpr std::int64_t kMaxPemFileBytes = 100'000;
constexpr long kDaySeconds = 24 * 60 * 60;
/// Made anew this long before it runs out, and valid from this long ago: clocks of phones and computer differ.
constexpr long kEarly = kDaySeconds;

void freeBio(BIO* bio) { BIO_free(bio); }

Owned<BIO> memory() { return {BIO_new(BIO_s_mem()), freeBio}; }

void checkMade(bool made) {
    if (!made) throw InputError(message("server.certificate-not-made"));
}

std::vector<std::uint8_t> bytesOf(BIO* bio) {
    const char* text = nullptr;
    const long size = BIO_get_mem_data(bio, &text);
    return {text, text + size};
}

Certificate parsed(const std::string& pem) {
    const Owned<BIO> text(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())), freeBio);
    return {PEM_read_bio_X509(text.get(), nullptr, nullptr, nullptr), X509_free};
}

bool isAddress(const std::string& host) {
    in_addr address{};
    return ::inet_pton(AF_INET, host.c_str(), &address) == 1;
}

void addExtension(X509* certificate, int kind, const std::string& value) {
    X509V3_CTX context;
    X509V3_set_ctx_nodb(&context);
    X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
    const Owned<X509_EXTENSION> extension(X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str()),
                                          X509_EXTENSION_free);
    checkMade(extension && X509_add_ext(certificate, extension.get(), -1) == 1);
}

/// RFC 5280: a server's own certificate, for the names by which it is called.
Certificate made(EVP_PKEY* key, const std::vector<std::string>& hosts) {
    Certificate certificate(X509_new(), X509_free);
    std::array<unsigned char, 16> serial{};
    checkMade(certificate && RAND_bytes(serial.data(), static_cast<int>(serial.size())) == 1);
    serial[0] = static_cast<unsigned char>((serial[0] & 0x3F) | 0x40);  // positive, and never shorter
    const Owned<BIGNUM> number(BN_bin2bn(serial.data(), static_cast<int>(serial.size()), nullptr), BN_free);
    X509* one = certificate.get();
    checkMade(number && BN_to_ASN1_INTEGER(number.get(), X509_get_serialNumber(one)) != nullptr &&
              X509_set_version(one, X509_VERSION_3) == 1 && X509_set_pubkey(one, key) == 1 &&
              X509_gmtime_adj(X509_getm_notBefore(one), -kEarly) != nullptr &&
              X509_gmtime_adj(X509_getm_notAfter(one), kCertificateDays * kDaySeconds - kEarly) != nullptr);
    X509_NAME* name = X509_get_subject_name(one);
    const std::string called = say("server.certificate-name");
    checkMade(X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_UTF8,
                                         reinterpret_cast<const unsigned char*>(called.data()),
                                         static_cast<int>(called.size()), -1, 0) == 1 &&
              X509_set_issuer_name(one, name) == 1);
    std::string names;
    for (const std::string& host : hosts)
        names += std::string(names.empty() ? "" : ",") + (isAddress(host) ? "IP:" : "DNS:") + host;
    addExtension(one, NID_subject_alt_name, names);
    addExtension(one, NID_basic_constraints, "critical,CA:FALSE");
    addExtension(one, NID_key_usage, "critical,digitalSignature");
    addExtension(one, NID_ext_key_usage, "serverAuth");
    checkMade(X509_sign(one, key, EVP_sha256()) != 0);
    return certificate;
}

/// Whether it is still good, and for all of these hosts.
bool isGood(const std::string& pem, const std::vector<std::string>& hosts) {
    const Certificate certificate = parsed(pem);
    if (!certificate) return false;
    time_t soon = ::time(nullptr) + kEarly;
    if (X509_cmp_time(X509_get0_notAfter(certificate.get()), &soon) <= 0) return false;
    return std::all_of(hosts.begin(), hosts.end(), [&](const std::string& host) {
        return (isAddress(host) ? X509_check_ip_asc(certificate.get(), host.c_str(), 0)
                                : X509_check_host(certificate.get(), host.c_str(), host.size(), 0, nullptr)) == 1;
    });
}

std::string textOf(const fs::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxPemFileBytes);
    return {bytes.begin(), bytes.end()};
}

void writeSecret(const fs::path& file, const std::vector<std::uint8_t>& bytes) {
    try {
        writeFileAtomically(file, bytes, ownerFileCalls());
    } catch (const InputError&) {
        throw InputError(message("server.certificate-not-kept", file.parent_path().string()));
    }
}

}  // namespace

TlsFiles ownCertificate(const fs::path& folder, const std::vector<std::string>& hosts) {
    TlsFiles files{folder / "certificate.pem", folder / "certificate-key.pem"};
    std::error_code error;
    if (fs::exists(files.certificate, error) && fs::exists(files.key, error) &&
        isGood(textOf(files.certificate), hosts))
        return files;
    fs::create_directories(folder, error);
    const Key key(EVP_EC_gen("P-256"), EVP_PKEY_free);
    checkMade(key != nullptr);
    const Certificate certificate = made(key.get(), hosts);
    const Owned<BIO> keyText = memory(), certificateText = memory();
    checkMade(keyText && certificateText &&
              PEM_write_bio_PrivateKey(keyText.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) == 1 &&
              PEM_write_bio_X509(certificateText.get(), certificate.get()) == 1);
    // The certificate last: where the program ends between the two, the next start makes both anew.
    fs::remove(files.certificate, error);
    writeSecret(files.key, bytesOf(keyText.get()));
    writeSecret(files.certificate, bytesOf(certificateText.get()));
    return files;
}

std::string fingerprintOf(const std::string& pem) {
    const Certificate certificate = parsed(pem);
    if (!certificate) return "";
    unsigned char* der = nullptr;
    const int size = i2d_X509(certificate.get(), &der);
    const Owned<unsigned char> kept(der, [](unsigned char* bytes) { OPENSSL_free(bytes); });
    return size > 0 ? sha256Of(std::span<const std::uint8_t>(der, static_cast<std::size_t>(size))) : "";
}

std::string fingerprintForEyes(const std::string& digits) {
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && i % 2 == 0) text += ':';
        text += static_cast<char>(std::toupper(static_cast<unsigned char>(digits[i])));
    }
    return text;
}

}  // namespace shimsight::server
