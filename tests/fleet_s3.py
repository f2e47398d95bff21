"""Is a pool in a store that speaks S3 read as one in a folder is?

Puts a pool into a store on this machine, and asks for its layer in one process and of two executors.

    pip install -r tests/requirements.txt
    python tests/fleet_s3.py WATERSEAM_FLEET crates/fleet/tests/pool

The exit status is 1 where an answer differs.
"""

import os
import subprocess
import sys
from pathlib import Path

import boto3
from moto.server import ThreadedMotoServer

BUCKET = "boats"


def main(program, pool):
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0)
    server.start()
    host, port = server.get_host_and_port()
    store = {
        "AWS_ACCESS_KEY_ID": "anybody",
        "AWS_SECRET_ACCESS_KEY": "anything",
        "AWS_REGION": "us-east-1",
        "AWS_ENDPOINT": f"http://{host}:{port}",
        "AWS_ALLOW_HTTP": "true",
    }
    client = boto3.client(
        "s3",
        endpoint_url=store["AWS_ENDPOINT"],
        region_name=store["AWS_REGION"],
        aws_access_key_id=store["AWS_ACCESS_KEY_ID"],
        aws_secret_access_key=store["AWS_SECRET_ACCESS_KEY"],
    )
    client.create_bucket(Bucket=BUCKET)
    for path in Path(pool).rglob("*"):
        if path.is_file():
            client.upload_file(str(path), BUCKET, f"pool/{path.relative_to(pool)}")

    environment = os.environ | store
    words = [program, "layer", "--season-part", "week", "--pool"]

    def answer(*rest):
        return subprocess.run(words + list(rest), env=environment, check=True, capture_output=True, timeout=300).stdout

    cluster = subprocess.Popen(
        [program, "cluster", "--executors", "2"], env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        scheduler = cluster.stdout.readline().strip()
        in_folder = answer(str(pool))
        answers = {"one process": answer(f"s3://{BUCKET}/pool")}
        answers["two executors"] = answer(f"s3://{BUCKET}/pool", "--scheduler", scheduler)
    finally:
        cluster.communicate(timeout=60)
        server.stop()
    lines = in_folder.count(b"\n")
    wrong = lines < 20
    for who, found in answers.items():
        print(f"{'ok    ' if found == in_folder else 'FAILED'} {who}: {lines} lines of a pool in a store, as in a folder")
        wrong |= found != in_folder
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], Path(sys.argv[2])))
