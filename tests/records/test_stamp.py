"""Time stamps: queries, replies and their authorities, against openssl's own time-stamp authority.

The authorities are invented; openssl makes each reply, and verifies it as the outside engine.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
import yaml

from liftcalc.base.errors import InputError, RecordError
from liftcalc.cli import main
from liftcalc.records import sign, stamp
from liftcalc.records.log import read_log
from liftcalc.records.manifest import Manifest
from liftcalc.records.trust import load_trusted, signature_findings, signed_words
from liftcalc.records.verify import verify_record

pytest.importorskip("rfc3161_client")
if shutil.which("openssl") is None:
    pytest.skip("no openssl here", allow_module_level=True)

CONFIG = """
[a]
default_tsa = t
[t]
serial = ./serial
signer_cert = ./tsa.pem
{certs}
signer_key = ./tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
other_policies = 1.2.3.4.2
digests = sha256, sha512
accuracy = secs:1
ess_cert_id_alg = sha256
"""


def _openssl(folder: Path, *arguments: str | Path) -> str:
    done = subprocess.run(("openssl", *arguments), cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


class Authority:
    """An invented authority: a root, and a certificate for time stamps."""

    def __init__(self, folder: Path, *, days: str = "3650", chain: bool = False) -> None:
        folder.mkdir()
        self.folder = folder
        key = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes")
        root = ("-x509", *key, "-keyout", "root.key", "-out", "root.pem", "-days", "3650")
        _openssl(folder, "req", *root, "-subj", "/CN=Invented root")
        own = ("-subj", "/CN=Invented time", "-keyout", "tsa.key", "-out", "tsa.csr")
        _openssl(folder, "req", *key, *own)
        (folder / "ext").write_text("extendedKeyUsage=critical,timeStamping\nkeyUsage=digitalSignature\n")
        signed = ("-CA", "root.pem", "-CAkey", "root.key", "-CAcreateserial", "-days", days)
        _openssl(folder, "x509", "-req", "-in", "tsa.csr", *signed, "-extfile", "ext", "-out", "tsa.pem")
        certs = "certs = ./root.pem" if chain else ""
        (folder / "tsa.cnf").write_text(CONFIG.format(certs=certs))
        (folder / "serial").write_text("01")

    @property
    def root(self) -> str:
        """Its root certificate (PEM)."""
        return (self.folder / "root.pem").read_text()

    def reply(self, query: Path, reply: Path) -> Path:
        """What it answers to a query."""
        _openssl(
            self.folder, "ts", "-reply", "-config", "tsa.cnf", "-section", "t",
            "-queryfile", query, "-out", reply,
        )  # fmt: skip
        return reply


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """A sound authority."""
    return Authority(tmp_path_factory.mktemp("tsa") / "a")


@pytest.fixture
def replied(copied: Path, authority: Authority, tmp_path: Path) -> Path:
    """The authority's reply for the record."""
    query = stamp.write_query(copied, tmp_path)
    return authority.reply(query, tmp_path / f"{copied.name}.tsr")


def _manifest(record: Path) -> Manifest:
    manifest = verify_record(record).manifest
    assert manifest is not None
    return manifest


def test_openssl_reads_the_query(copied: Path, tmp_path: Path) -> None:
    query = stamp.write_query(copied, tmp_path / "q")
    digest = sha256((copied / "manifest.json").read_bytes()).hexdigest()
    text = _openssl(tmp_path, "ts", "-query", "-in", query, "-text")
    shown = "".join(
        line.split(" - ")[1].split("   ")[0].replace("-", " ").replace(" ", "")
        for line in text.splitlines() if line.startswith("    00")
    )  # fmt: skip
    assert shown == digest
    assert "Hash Algorithm: sha256" in text
    assert "Certificate required: yes" in text
    assert stamp.write_query(copied, tmp_path / "q").read_bytes() == query.read_bytes()


def test_a_reply_is_verified_stored_logged_and_shown(
    copied: Path, replied: Path, authority: Authority, tmp_path: Path
) -> None:
    manifest = _manifest(copied)
    _openssl(
        tmp_path, "ts", "-verify", "-in", replied, "-data", copied / "manifest.json",
        "-CAfile", authority.folder / "root.pem",
    )  # fmt: skip
    done = stamp.store_reply(copied, replied, (authority.root,))
    assert done.trusted
    assert done.authority == "certified by CN=Invented root"
    seen = datetime.fromisoformat(done.utc)
    assert abs(datetime.now(UTC) - seen) < timedelta(hours=1)
    (path,) = sign.beside(copied).iterdir()
    assert path.read_bytes() == replied.read_bytes()
    assert verify_record(copied).ok
    log = read_log(copied.parent)
    assert log is not None
    assert log.lines[-1].what == "time stamp"
    assert stamp.store_reply(copied, tmp_path, (authority.root,)) == done  # by its name, once more
    assert len(list(sign.beside(copied).iterdir())) == 1
    (tmp_path / "t.yaml").write_text(yaml.safe_dump({"time_stamp_authorities": [str(authority.folder / "root.pem")]}))
    trusted = load_trusted(tmp_path / "t.yaml")
    findings, (note,) = signature_findings(copied, manifest, trusted)
    assert findings == []
    assert f"the record existed at {done.utc} by a trusted authority" in note
    assert signed_words(copied, trusted) == f"time stamp {done.utc}"
    findings, (note,) = signature_findings(copied, manifest)
    assert findings == []
    assert "not verified" in note
    assert signed_words(copied) == ""


def test_a_reply_for_another_record_is_refused(
    copied: Path, authority: Authority, replied: Path, made_chain: tuple[Path, ...]
) -> None:
    other = copied.parent / made_chain[0].name
    shutil.copytree(made_chain[0], other)
    for roots in ((), (authority.root,)):
        with pytest.raises(InputError, match="is for another record, or an earlier state"):
            stamp.store_reply(other, replied, roots)
    assert not sign.beside(other).exists()


def test_a_stamp_of_an_earlier_state_is_found(
    copied: Path, authority: Authority, replied: Path, forge: Callable[..., Manifest]
) -> None:
    stamp.store_reply(copied, replied, (authority.root,))
    findings, _ = signature_findings(copied, forge(copied, prepared_utc="2019-01-01T00:00:00Z"))
    assert len(findings) == 1
    assert findings[0].endswith("is for another record, or an earlier state of this one")
    assert signed_words(copied) == "1 not valid"


def test_an_authority_that_is_not_trusted_is_refused(
    copied: Path, replied: Path, authority: Authority, tmp_path: Path
) -> None:
    other = Authority(tmp_path / "other")
    with pytest.raises(InputError, match="does not verify: unable to get local issuer"):
        stamp.store_reply(copied, replied, (other.root,))
    stamp.store_reply(copied, replied)
    (found,) = stamp.read_stamps(copied, (other.root,))
    assert "does not verify" in found.problem
    (found,) = stamp.read_stamps(copied, (other.root, authority.root))
    assert found.trusted


def test_a_certificate_that_had_expired_is_refused(copied: Path, tmp_path: Path) -> None:
    old = Authority(tmp_path / "old", days="-1")
    reply = old.reply(stamp.write_query(copied, tmp_path), tmp_path / "r.tsr")
    with pytest.raises(InputError, match="does not verify: certificate has expired"):
        stamp.store_reply(copied, reply, (old.root,))


def test_every_single_byte_change_is_found_or_changes_nothing_that_is_said(
    copied: Path, replied: Path, authority: Authority
) -> None:
    done = stamp.store_reply(copied, replied, (authority.root,))
    (path,) = sign.beside(copied).iterdir()
    data = path.read_bytes()
    path.chmod(0o644)
    kept = 0
    for place in range(len(data)):
        path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
        (found,) = stamp.read_stamps(copied, (authority.root,))
        assert found.problem.isprintable()
        if not found.problem:
            kept += 1
            assert (found.utc, found.trusted) == (done.utc, True), place
    assert kept < 20  # version numbers, and what the authority's signature does not cover


@pytest.mark.parametrize("data", [b"", b"{}", b"\x30\x03\x02\x01\x02", bytes(5000), b"\x30\x84"])
def test_what_is_no_reply_is_named_without_a_crash(
    data: bytes, copied: Path, authority: Authority, tmp_path: Path
) -> None:
    (tmp_path / "x.tsr").write_bytes(data)
    with pytest.raises(InputError, match=r"x\.tsr"):
        stamp.store_reply(copied, tmp_path / "x.tsr", (authority.root,))
    with pytest.raises(InputError, match="is missing"):
        stamp.store_reply(copied, tmp_path)
    sign.beside(copied).mkdir()
    shutil.copy(tmp_path / "x.tsr", sign.beside(copied) / "x.tsr")
    findings, _ = signature_findings(copied, _manifest(copied))
    assert findings[0].startswith("time stamp x.tsr: ")


def test_certificates_are_read_in_any_order(copied: Path, tmp_path: Path) -> None:
    for number in range(4):  # the order depends on the bytes of the certificates
        chained = Authority(tmp_path / f"a{number}", chain=True)
        query = stamp.write_query(copied, tmp_path)
        reply = chained.reply(query, tmp_path / f"r{number}.tsr")
        assert stamp.store_reply(copied, reply, (chained.root,)).trusted


def test_a_refusal_of_the_authority_is_said(copied: Path, authority: Authority, tmp_path: Path) -> None:
    query = tmp_path / "q.tsq"
    data = copied / "manifest.json"
    _openssl(tmp_path, "ts", "-query", "-data", data, "-sha1", "-out", query)
    reply = authority.reply(query, tmp_path / "r.tsr")
    with pytest.raises(InputError, match="holds no time stamp"):
        stamp.store_reply(copied, reply, (authority.root,))


def test_a_query_of_another_tool_with_nonce_serves_as_well(copied: Path, authority: Authority, tmp_path: Path) -> None:
    query, data = tmp_path / "q.tsq", copied / "manifest.json"
    _openssl(tmp_path, "ts", "-query", "-data", data, "-sha256", "-cert", "-out", query)
    reply = authority.reply(query, tmp_path / "r.tsr")
    assert stamp.store_reply(copied, reply, (authority.root,)).trusted


def test_a_stamp_by_another_hash_is_refused(copied: Path, authority: Authority, tmp_path: Path) -> None:
    query, data = tmp_path / "q.tsq", copied / "manifest.json"
    _openssl(tmp_path, "ts", "-query", "-data", data, "-sha512", "-cert", "-out", query)
    reply = authority.reply(query, tmp_path / "r.tsr")
    with pytest.raises(InputError, match="another record"):
        stamp.store_reply(copied, reply, (authority.root,))


def test_a_broken_record_gets_no_query(copied: Path, tmp_path: Path) -> None:
    (copied / "results.json").write_bytes(b"{}")
    with pytest.raises(RecordError, match=r"results\.json"):
        stamp.write_query(copied, tmp_path / "q")
    assert not (tmp_path / "q").exists()


def test_the_command_asks_for_stamps_and_stores_them(
    copied: Path, authority: Authority, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    away = tmp_path / "away"
    assert main(["stamp", str(copied)]) == 2
    assert "--query" in capsys.readouterr().err
    assert main(["stamp", str(copied.parent), "--query", str(away)]) == 0
    (query,) = away.iterdir()
    authority.reply(query, query.with_suffix(".tsr"))
    (tmp_path / "t.yaml").write_text(yaml.safe_dump({"time_stamp_authorities": [authority.root]}))
    told = ["--trusted", str(tmp_path / "t.yaml")]
    assert main(["stamp", str(copied), "--reply", str(away), *told]) == 0
    assert "existed at" in capsys.readouterr().out
    assert main(["recheck", str(copied), "--no-record", *told]) in (0, 3, 5)
    assert "by a trusted authority (certified by CN=Invented root)" in capsys.readouterr().out
