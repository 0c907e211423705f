"""Made-up signatures: a wavy line from letter to letter, the same for the same name."""

import base64
import io
import json
import math

from PIL import Image, ImageDraw

WIDTH, HEIGHT, LEFT, MIDDLE, STEP = 480, 160, 30, 90, 4


def strokes_of(name: str) -> str:
    """The lines of a signature, one for each word, as a page sends them."""
    lines, at = [], float(LEFT)
    for word in name.split():
        line = []
        for place, letter in enumerate(word):
            tall = 14 + ord(letter) % 23 + (22 if place == 0 else 0)
            for part in range(STEP):
                angle = math.pi * 2 * part / STEP
                line.append([round(at, 1), round(MIDDLE - tall * math.sin(angle), 1)])
                at += 3.2
        lines.append(line)
        at += 14
    return json.dumps(lines)


def picture_of(strokes: str) -> str:
    """The lines as the picture that a page sends: a PNG as a data URL."""
    image = Image.new("L", (WIDTH, HEIGHT), 255)
    pen = ImageDraw.Draw(image)
    for line in json.loads(strokes):
        pen.line([tuple(point) for point in line], fill=0, width=3, joint="curve")
    out = io.BytesIO()
    image.save(out, "PNG")
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()
