#!/usr/bin/env python3
"""Makes signals with numpy and works out with scipy what a measurement of them must give.

scipy_reference.py FOLDER   writes the signals there and prints, as JSON, a list of {"name", "arguments", "figure", "value", "tolerance"}; exits 77 where
Debian's python3-scipy is missing. Nothing here is taken from the analyser: filters are scipy's, curves are typed in again.
"""
import json
import os
import subprocess
import sys

try:
    import numpy as np
    from scipy import interpolate, io, optimize, signal
except ImportError as missing:
    print(missing)
    sys.exit(77)

folder = sys.argv[1]
expected = []


def path_of(name):
    return os.path.join(folder, name)


def expect(name, arguments, figure, value, tolerance):
    expected.append({"name": name, "arguments": arguments, "figure": figure, "value": value, "tolerance": tolerance})


# Speed of a tone. IEC 60386, table 1, from memory: Hz, dB.
CURVE = {0.2: -30.6, 0.315: -19.7, 0.4: -15.0, 0.63: -8.4, 0.8: -6.0, 1.0: -4.2, 1.6: -1.8, 2.0: -0.9, 4.0: 0.0, 6.3: -0.9, 10.0: -2.1, 20.0: -5.9,
         40.0: -10.4, 63.0: -14.2, 100.0: -17.3, 200.0: -23.0}
RATE = 24000


def tone(speed_percent, hz=3150.0):
    """A tone whose speed goes as given."""
    return 0.5 * np.sin(2 * np.pi * np.cumsum(hz * (1 + speed_percent / 100)) / RATE)


def write_tone(name, samples):
    io.wavfile.write(path_of(name), RATE, np.round(samples * (2**31 - 1)).astype(np.int32))
    return ["measure", "tone", path_of(name)]


def speed_of(samples):
    """Speed in percent about its mean, and the mean frequency: analytic signal, phase, slope; the ends left out."""
    low, high = 3150 - 400, 3150 + 400
    band = signal.sosfiltfilt(signal.butter(3, [low, high], "bandpass", fs=RATE, output="sos"), samples)
    phase = np.unwrap(np.angle(signal.hilbert(band)))
    end = RATE // 2
    hz = np.gradient(phase)[end:-end] * RATE / (2 * np.pi)
    return 100 * (hz / hz.mean() - 1), hz.mean()


def filtered(speed, response):
    spectrum = np.fft.rfft(speed)
    return np.fft.irfft(spectrum * response(np.fft.rfftfreq(len(speed), 1 / RATE)), len(speed))


def weighting(hz):
    octaves = np.log2(list(CURVE))
    curve = interpolate.PchipInterpolator(octaves, list(CURVE.values()))
    inside = np.clip(hz, min(CURVE), 1000)
    decibels = np.where(inside <= 200, curve(np.log2(np.minimum(inside, 200))), CURVE[200.0] - 6 * np.log2(inside / 200))
    return np.where(hz > 0, 10 ** (decibels / 20), 0)


def network(speed, low, high):
    """Butterworth's filters as a meter has them, causal, of the fourth order at either end; at 1 kHz."""
    fs = RATE // 24
    slow = signal.resample_poly(speed, 1, 24)
    slow = signal.sosfilt(signal.butter(4, low, "highpass", fs=fs, output="sos"), slow)
    return signal.sosfilt(signal.butter(4, high, "lowpass", fs=fs, output="sos"), slow)


def two_sigma(deflection, seconds, fs):
    """The magnitude that is not exceeded for 95.45 % of the last seconds but one, when filters have settled."""
    return np.quantile(np.abs(deflection[-int((seconds + 1) * fs):-int(fs)]), 0.9545)


def tones():
    for hz, decibels in CURVE.items():
        time = np.arange(int(max(7, 4 / hz) * RATE)) / RATE
        command = write_tone(f"flutter-{hz}.wav", tone(0.5 * np.sin(2 * np.pi * hz * time)))
        # Two-sigma reading of a sine of the depth that the table's point leaves.
        reading = 0.5 * 10 ** (decibels / 20) * np.sin(np.pi / 2 * 0.9545)
        expect(f"weighting at {hz} Hz", command, "wow_flutter_weighted", reading, (0.03 if hz <= 100 else 0.1) * reading)
    time = np.arange(26 * RATE) / RATE  # of which 25 are demodulated, whole periods of all that is in them
    random = np.random.default_rng(11)
    mixed = 0.2 * np.sin(2 * np.pi * 0.8 * time) + 0.1 * np.sin(2 * np.pi * 4 * time + 1) + 0.15 * np.sin(2 * np.pi * 27.32 * time)
    bursts = 0.4 * np.sin(2 * np.pi * 16 * time) * (time % 1 < 0.25)  # a quarter of each second, whole periods
    for name, speed in (("mixed", mixed), ("bursts", bursts)):
        samples = tone(speed, 3161.7) + 10 ** (-60 / 20) * random.standard_normal(len(time))
        command = write_tone(f"{name}.wav", samples)
        read, hz = speed_of(samples)
        expect(f"{name}: frequency by Hilbert's transform", command, "tone_frequency", hz, 2e-5 * hz)
        for figure, low, high in (("wow_unweighted", 0.1, 6), ("flutter_unweighted", 6, 200)):
            reading = two_sigma(network(read, low, high), 12, RATE // 24)
            expect(f"{name}: {figure}", command, figure, reading, 0.03 * reading)
    read, _ = speed_of(tone(mixed))
    reading = two_sigma(filtered(read, weighting), 12, RATE)
    expect("mixed: weighted", [*command[:2], path_of("mixed.wav")], "wow_flutter_weighted", reading, 0.03 * reading)


# Noise of composite video: the unified network of ITU-T J.61, from memory, as an analogue filter.
TAU, A = 245e-9, 4.5


def composite(rate, noise):
    """625 lines in black: levels in volts, edges by a short moving mean."""
    line = int(64e-6 * rate)
    half = line // 2
    width = {"line": 4.7e-6, "equalising": 2.35e-6, "broad": 27.3e-6}
    samples = np.zeros(len(noise))
    frames = len(noise) // (625 * line)
    for place in range(frames * 1250):
        at = place % 1250
        field = at % 625
        kind = "broad" if field < 5 else "equalising" if field < 10 or field >= 620 else "line"
        if kind == "line" and at % 2 == 1:
            continue
        samples[place * half:place * half + int(width[kind] * rate)] = -0.3
    return np.convolve(samples, np.ones(3) / 3, "same") + noise


def video():
    rate = 16_000_000
    random = np.random.default_rng(5)
    white = random.standard_normal(6 * 625 * 1024)
    rising = signal.lfilter([1, -1], [1], white)
    for name, noise, rms in (("white", white, 0.007), ("rising", rising / rising.std(), 0.01)):
        noise = rms * noise
        file = path_of(f"{name}.f32")
        composite(rate, noise).astype("<f4").tofile(file)
        hz, density = signal.welch(noise, rate, nperseg=4096)
        band = (hz > 0) & (hz <= 5e6)
        weight = np.abs(signal.freqs([TAU / A, 1], [(1 + 1 / A) * TAU, 1], 2 * np.pi * hz)[1]) ** 2
        command = ["measure", "waveform", file, "--samples", "f32", "--rate", str(rate)]
        power = np.sum(density[band]) * hz[1]
        weighted = np.sum((density * weight)[band]) * hz[1]
        expect(f"{name} noise", command, "luma_snr", 10 * np.log10(0.49 / power), 0.3)
        expect(f"{name} noise, weighted", command, "luma_snr_weighted", 10 * np.log10(0.49 / weighted), 0.3)


def hum():
    """Hum in music-like noise: least squares of its two lines."""
    rate = 48000
    time = np.arange(20 * rate) / rate
    random = np.random.default_rng(3)
    music = signal.lfilter(*signal.butter(2, [200, 4000], "bandpass", fs=rate), random.standard_normal(len(time)))
    sound = 0.02 * music / music.std() + 0.01 * np.sin(2 * np.pi * 50.02 * time) + 0.004 * np.sin(2 * np.pi * 100.04 * time + 2)
    low = signal.decimate(signal.decimate(sound, 8, ftype="fir"), 8, ftype="fir")
    at = np.arange(len(low)) * 64 / rate

    def model(t, hz, a, b, c, d):
        return a * np.sin(2 * np.pi * hz * t) + b * np.cos(2 * np.pi * hz * t) + c * np.sin(4 * np.pi * hz * t) + d * np.cos(4 * np.pi * hz * t)

    fit = optimize.curve_fit(model, at[50:-50], low[50:-50], p0=[50, 0.01, 0, 0.004, 0])[0]
    wav, clip = path_of("hum.wav"), path_of("hum.mkv")
    io.wavfile.write(wav, rate, np.round(sound * 32767).astype(np.int16))
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", "color=gray:s=64x48:r=25:d=20", "-i", wav, "-c:v", "ffv1", "-c:a", "copy", clip],
                   check=True)
    expect("hum: frequency by least squares", ["measure", "clip", clip], "hum_frequency", fit[0], 0.005)
    expect("hum: level by least squares", ["measure", "clip", clip], "hum_level", 10 * np.log10(np.sum(fit[1:] ** 2)), 0.5)


tones()
video()
hum()
print(json.dumps(expected))
