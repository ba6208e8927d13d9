#pragma once

#include <string>
#include <vector>

namespace guardband::support {

/// Is the `hacktv` command there, an independent generator of analogue television? Tests that hold the engine against
/// it skip themselves, and say so, where it isn't.
bool has_hacktv();

/// Composite video of its colour bars, full scale ±1: 0.3 V of 1 V below blanking is sync, 32767 is 1 V.
/// @param mode     as it names them: `pal`, `ntsc`, `525pal`, `secam`, `405`, `819`
/// @param rate_hz  a multiple of the line rate, else it rounds the lines' length
/// @param options  further ones: `--nocolour`, `--vits`
/// @throws std::runtime_error if it gives less than that
std::vector<float> hacktv_samples(const std::string& mode, int rate_hz, double seconds,
                                  const std::string& options = "");

}  // namespace guardband::support

/// First line of a test that needs the `hacktv` command.
#define GUARDBAND_NEEDS_HACKTV()           \
    if (!guardband::support::has_hacktv()) \
    GTEST_SKIP() << "the hacktv command is not installed, which makes this test's signals"
