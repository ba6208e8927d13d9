#include "support/hacktv.h"

#include <fmt/format.h>

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <stdexcept>

namespace guardband::support {

bool has_hacktv() { return std::system("command -v hacktv >/dev/null 2>&1") == 0; }

std::vector<float> hacktv_samples(const std::string& mode, int rate_hz, double seconds, const std::string& options) {
    std::vector<std::int16_t> codes(static_cast<std::size_t>(seconds * rate_hz));
    // It goes on until its pipe is closed.
    const std::string command =
        fmt::format("hacktv -o file:- -t int16 -m {} -s {} {} test:colourbars 2>/dev/null | head -c {}", mode, rate_hz,
                    options, codes.size() * sizeof(std::int16_t));
    const auto close = [](FILE* pipe) { pclose(pipe); };
    const std::unique_ptr<FILE, decltype(close)> pipe(popen(command.c_str(), "r"), close);
    if (!pipe || std::fread(codes.data(), sizeof(std::int16_t), codes.size(), pipe.get()) != codes.size())
        throw std::runtime_error("fewer samples than asked for from: " + command);
    std::vector<float> samples;
    samples.reserve(codes.size());
    for (const std::int16_t code : codes) samples.push_back(static_cast<float>(code) / 32768.0F);
    return samples;
}

}  // namespace guardband::support
